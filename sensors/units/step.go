package units

// A Step says what one count of a raw reading is: Num/Den whole-number units. A DS18B20 counts in 1/16 °C, which is
// Step{Temperature, 125, 2}: 125/2 m°C a count. Series are stored as counts, so raw stays raw.
type Step struct {
	Unit     Unit
	Num, Den int32
}

// Whole is the step of a source that already speaks whole-number units.
func Whole(u Unit) Step { return Step{u, 1, 1} }

// Of converts raw counts to whole-number units, rounding half away from zero.
func (s Step) Of(raw int64) int64 {
	if s.Num == s.Den || s.Den == 0 {
		return raw
	}
	return roundDiv(raw*int64(s.Num), int64(s.Den))
}
