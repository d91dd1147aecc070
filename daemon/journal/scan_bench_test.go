package journal

import (
	"path/filepath"
	"testing"
)

// BenchmarkScan is one probe's 60 days against the same in rows, quick enough to be run often.
func BenchmarkScan(b *testing.B) {
	folder := dir(b)
	fillYear(b, filepath.Join(folder, "j.journal"), 60, 8)
	rows := rowTable(b, filepath.Join(folder, "rows"))
	fs := figures(8)
	for day := range 60 {
		rowDay(b, rows, fs, day)
	}
	j := open(b, filepath.Join(folder, "j.journal"), Options{Ballast: -1})
	for b.Loop() {
		ours, theirs := 0.0, 0.0
		for range 8 {
			ours, theirs = max(ours, scanJournal(b, j, "p06", 3)), max(theirs, scanRows(b, rows, 6))
		}
		b.ReportMetric(ours/1e6, "Mscanned/s")
		b.ReportMetric(ours/theirs, "scan-ratio")
	}
}
