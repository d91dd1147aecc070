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
