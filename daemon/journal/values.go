package journal

import (
	"encoding/binary"
	"math/bits"
)

// Values are coded in blocks of 128. Each block names the predictor that served it best and the Rice parameter, then holds what
// each value lay above or below its prediction, folded to a whole number (0, -1, 1, -2, 2 ... are 0, 1, 2, 3, 4 ...).
// Arithmetic wraps at 64 bits, so any series of whole numbers comes back exactly.
const valuesBlock = 128

// The predictors. A noisy channel is served by a slow mean, a quiet thermometer by its last value, a ramp by the line.
const (
	predLast = iota // the value before
	predLine        // the line through the two before
	predHalf        // a running mean that takes a half, a quarter ... of each new value's departure
	predQuarter
	predEighth
	predSixteenth
	predictors
)

// A past is what the predictors know. Running means carry four binary digits after the point.
type past struct {
	x1, x2         int64
	m2, m4, m8, mF int64
}

func pastOf(x int64) past { return past{x, x, x << 4, x << 4, x << 4, x << 4} }

func (p *past) predict(which int) int64 {
	switch which {
	case predLine:
		return 2*p.x1 - p.x2
	case predHalf:
		return (p.m2 + 8) >> 4
	case predQuarter:
		return (p.m4 + 8) >> 4
	case predEighth:
		return (p.m8 + 8) >> 4
	case predSixteenth:
		return (p.mF + 8) >> 4
	}
	return p.x1
}

func (p *past) take(x int64) {
	p.x2, p.x1 = p.x1, x
	f := x << 4
	p.m2 += (f - p.m2) >> 1
	p.m4 += (f - p.m4) >> 2
	p.m8 += (f - p.m8) >> 3
	p.mF += (f - p.mF) >> 4
}

func fold(d int64) uint64   { return uint64(d)<<1 ^ uint64(d>>63) }
func unfold(u uint64) int64 { return int64(u>>1) ^ -int64(u&1) }

type encoder struct {
	res [predictors][valuesBlock]uint64
}

// values appends the coded values; the first is known to the reader already.
func (e *encoder) values(b []byte, xs []int64) []byte {
	if len(xs) < 2 {
		return b
	}
	w := bitWriter{b: b}
	p := pastOf(xs[0])
	for rest := xs[1:]; len(rest) > 0; {
		n := min(valuesBlock, len(rest))
		for i, x := range rest[:n] {
			for which := range predictors {
				e.res[which][i] = fold(x - p.predict(which))
			}
			p.take(x)
		}
		which, k := e.best(n)
		w.put(uint64(which)<<5|uint64(k), 8)
		for _, u := range e.res[which][:n] {
			w.rice(u, k)
		}
		rest = rest[n:]
	}
	return w.flush()
}

func (e *encoder) best(n int) (which int, k uint) {
	least := ^uint(0)
	for i := range predictors {
		sum := uint64(0)
		for _, u := range e.res[i][:n] {
			sum += min(u, 1<<40) // an outlier is escaped and must not set the parameter
		}
		guess := uint(min(bits.Len64(sum/uint64(n)), 30))
		for try := max(guess, 2) - 2; try <= guess; try++ {
			size := uint(0)
			for _, u := range e.res[i][:n] {
				size += riceBits(u, try)
			}
			if size < least {
				least, which, k = size, i, try
			}
		}
	}
	return which, k
}

// decodeValues fills xs, whose first is given.
func decodeValues(b []byte, xs []int64) error {
	if len(xs) < 2 {
		return nil
	}
	r := bitReader{b: b}
	p := pastOf(xs[0])
	for rest := xs[1:]; len(rest) > 0; {
		n := min(valuesBlock, len(rest))
		head := r.get(8)
		decodeBlock(&r, &p, int(head>>5), uint(head&31), rest[:n])
		rest = rest[n:]
	}
	if r.cut() {
		return errCut
	}
	return nil
}

// decodeBlock is where replay spends its time: the reader's and the predictors' state is kept in registers for a block, and the common
// short codes are taken apart here rather than in rice.
func decodeBlock(r *bitReader, past *past, which int, k uint, xs []int64) {
	acc, n, pos, p := r.acc, r.n, r.pos, *past
	last := len(r.b) - 8
	for i := range xs {
		if n < 56 {
			if pos > last {
				r.acc, r.n, r.pos = acc, n, pos
				r.fill()
				acc, n, pos = r.acc, r.n, r.pos
			} else {
				acc |= binary.BigEndian.Uint64(r.b[pos:]) >> (n & 63)
				pos += int((63 - n) >> 3)
				n |= 56
			}
		}
		var u uint64
		if q := uint(bits.LeadingZeros64(^acc)); q < escapeAfter {
			acc <<= q + 1
			u = uint64(q)<<k | acc>>(64-k)
			acc <<= k
			n -= q + 1 + k
		} else {
			r.acc, r.n, r.pos = acc, n, pos
			u = r.rice(k)
			acc, n, pos = r.acc, r.n, r.pos
		}
		x := unfold(u)
		switch which {
		case predLast:
			x += p.x1
		case predEighth:
			x += (p.m8 + 8) >> 4
		case predSixteenth:
			x += (p.mF + 8) >> 4
		default:
			x += p.predict(which)
		}
		xs[i] = x
		p.take(x)
	}
	r.acc, r.n, r.pos, *past = acc, n, pos, p
}
