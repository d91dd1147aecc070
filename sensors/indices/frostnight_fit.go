package indices

// FrostHour is one of the three evening readings a fit is kept for. With summer time "two hours after sunset" comes after bedtime
// just when shoots are open, so earlier readings must serve as well.
type FrostHour uint8

// The three readings, in the order of the evening.
const (
	FrostAt15   FrostHour = iota // 15:00 local
	FrostAt18                    // 18:00 local
	FrostAtDusk                  // two hours after sunset
)

func (h FrostHour) String() string { return [...]string{"15:00", "18:00", "two hours after sunset"}[h] }

// FrostEvening is one reading of the air in °C.
type FrostEvening struct {
	T, Dew    float64
	OK, DewOK bool
}

// FrostSky is what is known of a night's sky and wind: Clear from 0 (overcast) to 1, Wind in m/s at plant height.
type FrostSky struct {
	Clear, Wind     float64
	ClearOK, WindOK bool
}

const (
	frostKeep      = 400  // nights kept: three winters of frost season
	frostLeast     = 8    // nights before an own fit is used
	frostCalm      = 2.0  // m/s: training nights are calmer (Snyder & de Melo-Abreu 2005)
	frostGuessErr  = 3.0  // °C, said of a guess: about what a constant drop missed by on a year of airport data, and some
	frostTermLeast = 20   // nights with a known sky or wind before there is a term for it
	frostTermGain  = 0.95 // the error must fall below this share for the terms to be used
)

// FrostFit learns to tell the night's minimum at one place from its own nights. The zero value is ready. It keeps, for each of the
// three readings, a line of the nights that were clear and calm as far as was known, and one of all nights; the two-step and the
// joint fit are both tried and the one with the smaller leave-one-out error speaks. Tonight's sky picks the line: clear and calm,
// or not known, the clear one (the cautious side); else that of all nights, with terms for wind and cloud once they have shown a gain.
type FrostFit struct {
	fits    [3]hourFit
	records []FrostRecord
}

// FrostRecord is one finished night as Add takes it, for keeping what a season taught.
type FrostRecord struct {
	Evening [3]FrostEvening
	Sky     FrostSky
	Low     float64
}

// Records gives the nights learned from, oldest first, at most 400; adding them to a new fit gives the same fit.
func (f *FrostFit) Records() []FrostRecord { return f.records }

type hourFit struct {
	clear, all nightSet
	skies      []FrostSky // of all
	terms      skyTerms
	fresh      bool
}

// nightSet is a bounded run of nights with the line that fits them.
type nightSet struct {
	nights []nightMilli
	sums   nightSums
	line   FrostLine
	bare   FrostLine // without the dew point
	method string    // empty while there are too few nights
	err    float64
	bareEr float64
}

// Add gives the fit a finished night: its evening readings, what was known of its sky and wind, and the minimum in °C.
func (f *FrostFit) Add(evening [3]FrostEvening, sky FrostSky, low float64) {
	if f.records = append(f.records, FrostRecord{evening, sky, low}); len(f.records) > frostKeep {
		f.records = f.records[1:]
	}
	for h, e := range evening {
		if !e.OK || !e.DewOK {
			continue
		}
		fit, n := &f.fits[h], nightOf(FrostNight{e.T, e.Dew, low})
		fit.fresh = false
		fit.all.add(n)
		if fit.skies = append(fit.skies, sky); len(fit.skies) > frostKeep {
			fit.skies = fit.skies[1:]
		}
		if sky.stillClear() {
			fit.clear.add(n)
		}
	}
}

// stillClear says that nothing known speaks against a clear calm night.
func (s FrostSky) stillClear() bool {
	return !(s.WindOK && s.Wind >= frostCalm) && !(s.ClearOK && s.Clear < 0.5)
}

func (s *nightSet) add(n nightMilli) {
	s.sums.add(n, 1)
	if s.nights = append(s.nights, n); len(s.nights) > frostKeep {
		s.sums.add(s.nights[0], -1)
		s.nights = s.nights[1:]
	}
}

func (s *nightSet) refit() {
	s.method = ""
	two, ok2 := s.sums.twoStep()
	joint, okJ := s.sums.joint()
	bare, ok1 := s.sums.tempOnly()
	if len(s.nights) < frostLeast || !ok1 {
		return
	}
	err2, okE2 := leaveOneOut(s.nights, s.sums, nightSums.twoStep)
	errJ, okEJ := leaveOneOut(s.nights, s.sums, nightSums.joint)
	s.bare, s.method = bare, "temperature only"
	s.bareEr, _ = leaveOneOut(s.nights, s.sums, nightSums.tempOnly)
	s.line, s.err = bare, s.bareEr
	switch {
	case okJ && okEJ && (!ok2 || !okE2 || errJ < err2):
		s.line, s.err, s.method = joint, errJ, "joint fit"
	case ok2 && okE2:
		s.line, s.err, s.method = two, err2, "two-step fit"
	}
}

func (f *hourFit) refit() {
	if f.fresh {
		return
	}
	f.fresh = true
	f.clear.refit()
	f.all.refit()
	f.terms = skyTerms{}
	if f.all.method != "" {
		f.terms = fitTerms(f.all, f.skies)
	}
}

// FrostEstimate is a night's expected minimum in °C with the error to be expected of it (root mean square). Guess means it does
// not come from the site's own nights.
type FrostEstimate struct {
	Low, Err float64
	Nights   int
	Method   string
	Guess    bool
}

// Estimate tells tonight's minimum from one evening reading. Before eight own nights it falls back to the afternoon rule (less
// nothing for grass, so it errs to the cold side) or a fixed drop, and says it is a guess. False without a reading.
func (f *FrostFit) Estimate(h FrostHour, e FrostEvening, sky FrostSky, midwinter bool) (FrostEstimate, bool) {
	if !e.OK {
		return FrostEstimate{}, false
	}
	fit := &f.fits[h]
	fit.refit()
	set, open := &fit.clear, sky.stillClear()
	if !open && fit.all.method != "" || set.method == "" {
		set = &fit.all
	}
	est := FrostEstimate{Nights: len(set.nights), Method: set.method, Err: set.err}
	switch {
	case set.method == "":
		est = frostGuess(h, e, midwinter)
		est.Nights = len(set.nights)
		return est, true
	case e.DewOK:
		est.Low = set.line.At(e.T, e.Dew)
	default:
		est.Low, est.Err, est.Method = set.bare.At(e.T, 0), set.bareEr, "temperature only"
	}
	if add, err, ok := fit.terms.at(sky); ok && set == &fit.all && e.DewOK {
		est.Low, est.Err, est.Method = est.Low+add, err, est.Method+" with sky and wind"
	}
	return est, true
}

// The mean fall from 18:00 to the minimum on clear nights; a guess between the afternoon rule and the fall after dusk.
const frostDrop18 = 8

func frostGuess(h FrostHour, e FrostEvening, midwinter bool) FrostEstimate {
	g := FrostEstimate{Err: frostGuessErr, Guess: true}
	switch {
	case h == FrostAt15 && e.DewOK:
		g.Low, g.Method = AfternoonLow(e.T, e.Dew, midwinter), "afternoon rule, at grass level"
	case h == FrostAtDusk:
		g.Low, g.Method = FirstGuessLow(e.T), "a fixed drop"
	default:
		g.Low, g.Method = e.T-frostDrop18, "a fixed drop"
	}
	return g
}

// LeaveOneOut gives the error in °C of the clear-night fit for a reading on its own nights, and how many there are; false under eight.
func (f *FrostFit) LeaveOneOut(h FrostHour) (err float64, nights int, ok bool) {
	fit := &f.fits[h]
	fit.refit()
	return fit.clear.err, len(fit.clear.nights), fit.clear.method != ""
}
