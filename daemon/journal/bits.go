package journal

import (
	"encoding/binary"
	"math/bits"
)

// Bits run from the highest of each byte to the lowest.
type bitWriter struct {
	b   []byte
	acc uint64 // the low n bits are waiting
	n   uint
}

// put writes the low w bits of v, w at most 32.
func (w *bitWriter) put(v uint64, width uint) {
	w.acc = w.acc<<width | v&(1<<width-1)
	w.n += width
	for w.n >= 8 {
		w.n -= 8
		w.b = append(w.b, byte(w.acc>>w.n))
	}
}

// flush fills the last byte with noughts.
func (w *bitWriter) flush() []byte {
	if w.n > 0 {
		w.b = append(w.b, byte(w.acc<<(8-w.n)))
		w.n = 0
	}
	return w.b
}

// escapeAfter ones in a row say that the value follows whole: six bits of its length less one, then the value.
const escapeAfter = 20

// rice writes u as u>>k ones, a nought, and its low k bits.
func (w *bitWriter) rice(u uint64, k uint) {
	q := u >> k
	if q < escapeAfter {
		w.put(1<<(q+1)-2, uint(q)+1)
		w.put(u, k)
		return
	}
	n := uint(bits.Len64(u)) // at least 5, since u >= escapeAfter
	w.put(1<<escapeAfter-1, escapeAfter)
	w.put(uint64(n-1), 6)
	if n > 32 {
		w.put(u>>32, n-32)
		n = 32
	}
	w.put(u, n)
}

// riceBits is what rice would write.
func riceBits(u uint64, k uint) uint {
	if q := u >> k; q < escapeAfter {
		return uint(q) + 1 + k
	}
	return escapeAfter + 6 + uint(bits.Len64(u))
}

// A bitReader reads past the end as noughts and says so at the end.
type bitReader struct {
	b    []byte
	acc  uint64 // the top n bits are next
	n    uint
	pos  int
	over int // bits read past the end
}

func (r *bitReader) fill() {
	if r.pos+8 <= len(r.b) {
		r.acc |= binary.BigEndian.Uint64(r.b[r.pos:]) >> r.n
		r.pos += int((63 - r.n) >> 3)
		r.n |= 56
		return
	}
	for r.n <= 56 {
		if r.pos < len(r.b) {
			r.acc |= uint64(r.b[r.pos]) << (56 - r.n)
		} else {
			r.over += 8
		}
		r.pos++
		r.n += 8
	}
}

// get reads at most 32 bits.
func (r *bitReader) get(width uint) uint64 {
	if r.n < width {
		r.fill()
	}
	v := r.acc >> (64 - width) // a shift by 64 gives nought, as wanted
	r.acc <<= width
	r.n -= width
	return v
}

func (r *bitReader) rice(k uint) uint64 {
	if r.n < 56 {
		r.fill()
	}
	q := uint(bits.LeadingZeros64(^r.acc))
	if q < escapeAfter {
		r.acc <<= q + 1
		v := uint64(q)<<k | r.acc>>(64-k)
		r.acc <<= k
		r.n -= q + 1 + k
		return v
	}
	r.acc <<= escapeAfter
	r.n -= escapeAfter
	n := uint(r.get(6)) + 1
	if n > 32 {
		high := r.get(n - 32)
		return high<<32 | r.get(32)
	}
	return r.get(n)
}

// cut reports whether more was read than was there.
func (r *bitReader) cut() bool { return r.over > int(r.n) }
