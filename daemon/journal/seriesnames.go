package journal

import (
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// seriesNames are the probes and steps that series numbers stand for, by the series table and by any block, which has a checksum.
type seriesNames map[int64]seriesKey

// learn takes what a row says of a series' name. A block is believed before the table.
func (names seriesNames) learn(r pageRow) {
	if b, ok := blobRow(r); ok {
		if _, c, err := columnOf(b); err == nil {
			names[-(r.rowid & (1<<20 - 1))] = seriesKey{c.probe, c.step}
		}
		return
	}
	if len(r.cols) != 6 || r.rowid <= 0 {
		return
	}
	probe, ok1 := r.cols[1].(string)
	unit, ok2 := r.cols[2].(string)
	num, ok3 := r.cols[3].(int64)
	den, ok4 := r.cols[4].(int64)
	u, err := units.FromSenML(unit)
	if ok1 && ok2 && ok3 && ok4 && err == nil && garden.SafeID(probe) && num != 0 && int64(int32(num)) == num && den > 0 && int64(int32(den)) == den {
		names[r.rowid] = seriesKey{sensors.ProbeID(probe), units.Step{Unit: u, Num: int32(num), Den: int32(den)}}
	}
}

// settle lets blocks (kept under the number's negative until now) decide, and drops what only the table says where two numbers have one
// name: then one of them is wrong, and its readings would be told as another probe's.
func (names seriesNames) settle() {
	sure, holders := map[int64]bool{}, map[seriesKey]int{}
	for n, k := range names {
		if n < 0 {
			sure[-n] = true
			delete(names, n)
			names[-n] = k
		}
	}
	for _, k := range names {
		holders[k]++
	}
	for n, k := range names {
		if holders[k] > 1 && !sure[n] {
			delete(names, n)
		}
	}
}
