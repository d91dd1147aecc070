package journal

import (
	"bytes"
	"compress/flate"
	"encoding/binary"
	"testing"
)

// BenchmarkCoders holds the Rice code against the standard library's deflate (level 9) on the same days: the same predictor chosen a
// block, the differences as varints. It is why there is a bit code of our own.
func BenchmarkCoders(b *testing.B) {
	for b.Loop() {
		var e encoder
		n, rice, deflated := 0, 0, 0
		for _, f := range figures(20) {
			for day := range 30 {
				var xs []int64
				for m := range 1440 {
					if raw, ok := f.at(day*1440 + m); ok {
						xs = append(xs, raw)
					}
				}
				n += len(xs)
				rice += len(e.values(nil, xs))
				deflated += len(deflate(&e, xs))
			}
		}
		b.ReportMetric(float64(rice)/float64(n), "riceB/reading")
		b.ReportMetric(float64(deflated)/float64(n), "deflateB/reading")
		b.ReportMetric(float64(deflated)/float64(rice), "deflate/rice")
	}
}

func deflate(e *encoder, xs []int64) []byte {
	var raw []byte
	p := pastOf(xs[0])
	for rest := xs[1:]; len(rest) > 0; {
		n := min(valuesBlock, len(rest))
		for i, x := range rest[:n] {
			for which := range predictors {
				e.res[which][i] = fold(x - p.predict(which))
			}
			p.take(x)
		}
		which, _ := e.best(n)
		raw = append(raw, byte(which))
		for _, u := range e.res[which][:n] {
			raw = binary.AppendUvarint(raw, u)
		}
		rest = rest[n:]
	}
	var out bytes.Buffer
	w, _ := flate.NewWriter(&out, flate.BestCompression)
	_, _ = w.Write(raw)
	_ = w.Close()
	return out.Bytes()
}
