package journal

import "testing"

func BenchmarkDecodeBlock(b *testing.B) {
	var e encoder
	for _, i := range []int{0, 5, 12, 13} {
		f := figures(20)[i]
		c := &column{probe: f.id, step: counts}
		for m := range 1440 {
			if raw, ok := f.at(m); ok {
				c.add(stamp(figureStart)+int64(m)*60000, raw, false)
			}
		}
		blob := e.column(dayOf(stamp(figureStart)), c)
		b.Run(string(f.id), func(b *testing.B) {
			for b.Loop() {
				if _, _, err := columnOf(blob); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(c.at)*b.N)/b.Elapsed().Seconds()/1e6, "Mreadings/s")
			b.ReportMetric(float64(len(blob))/float64(len(c.at)), "B/reading")
		})
	}
}

// plainDecode is decodeValues without its shortcuts.
func plainDecode(b []byte, xs []int64) {
	r := bitReader{b: b}
	p := pastOf(xs[0])
	for rest := xs[1:]; len(rest) > 0; {
		n := min(valuesBlock, len(rest))
		head := r.get(8)
		for i := range rest[:n] {
			rest[i] = p.predict(int(head>>5)) + unfold(r.rice(uint(head&31)))
			p.take(rest[i])
		}
		rest = rest[n:]
	}
}

func BenchmarkDecodeValues(b *testing.B) {
	var e encoder
	f := figures(20)[12]
	var xs []int64
	for m := range 1440 {
		if raw, ok := f.at(m); ok {
			xs = append(xs, raw)
		}
	}
	blob := e.values(nil, xs)
	for _, way := range []struct {
		name   string
		decode func([]byte, []int64)
	}{{"plain", plainDecode}, {"quick", func(b []byte, xs []int64) { _ = decodeValues(b, xs) }}} {
		b.Run(way.name, func(b *testing.B) {
			for b.Loop() {
				way.decode(blob, xs)
			}
			b.ReportMetric(float64(len(xs)*b.N)/b.Elapsed().Seconds()/1e6, "Mreadings/s")
		})
	}
}
