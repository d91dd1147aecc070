package indices

import "math"

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
	frostKeep      = 400 // nights kept: three winters of frost season
	frostLeast     = 8   // nights before an own fit is used
	frostCalm      = 2.0 // m/s: training nights are calmer (Snyder & de Melo-Abreu 2005)
	frostGuessErr  = 3.0 // °C, said of a guess: about what a constant drop missed by on a year of airport data, and some
	frostTermLeast = 20
)

// FrostFit learns to tell the night's minimum at one place from its own nights. The zero value is ready. It trains on nights
// that are clear and calm as far as is known and keeps, for each of the three readings, the two-step and the joint fit; the one
// with the smaller leave-one-out error speaks. Sky and wind terms are fitted on what is left where such probes exist.
type FrostFit struct {
	fits [3]hourFit
}

type hourFit struct {
	nights []nightMilli // clear and calm as far as known
	sums   nightSums
	all    []skyNight // every night, for the terms
	fresh  bool
	line   FrostLine
	bare   FrostLine // without the dew point
	method string
	err    float64
	bareEr float64
	terms  skyTerms
}

type skyNight struct {
	nightMilli
	sky FrostSky
}

// Add gives the fit a finished night: its evening readings, what was known of its sky and wind, and the minimum in °C.
func (f *FrostFit) Add(evening [3]FrostEvening, sky FrostSky, low float64) {
	for h, e := range evening {
		if e.OK && e.DewOK {
			f.fits[h].add(skyNight{nightOf(FrostNight{e.T, e.Dew, low}), sky})
		}
	}
}

func (f *hourFit) add(n skyNight) {
	f.fresh = false
	if f.all = append(f.all, n); len(f.all) > frostKeep {
		f.all = f.all[1:]
	}
	if n.sky.WindOK && n.sky.Wind >= frostCalm || n.sky.ClearOK && n.sky.Clear < 0.5 {
		return
	}
	f.sums.add(n.nightMilli, 1)
	if f.nights = append(f.nights, n.nightMilli); len(f.nights) > frostKeep {
		f.sums.add(f.nights[0], -1)
		f.nights = f.nights[1:]
	}
}

func (f *hourFit) refit() {
	if f.fresh {
		return
	}
	f.fresh, f.method, f.terms = true, "", skyTerms{}
	two, ok2 := f.sums.twoStep()
	joint, okJ := f.sums.joint()
	bare, ok1 := f.sums.tempOnly()
	err2, okE2 := leaveOneOut(f.nights, f.sums, nightSums.twoStep)
	errJ, okEJ := leaveOneOut(f.nights, f.sums, nightSums.joint)
	err1, okE1 := leaveOneOut(f.nights, f.sums, nightSums.tempOnly)
	switch {
	case len(f.nights) < frostLeast || !ok1 || !okE1:
		return
	case okJ && okEJ && (!ok2 || !okE2 || errJ < err2):
		f.line, f.err, f.method = joint, errJ, "joint fit"
	case ok2 && okE2:
		f.line, f.err, f.method = two, err2, "two-step fit"
	default:
		f.line, f.err, f.method = bare, err1, "temperature only"
	}
	f.bare, f.bareEr = bare, err1
	f.terms = fitTerms(f.all, f.line)
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
	est := FrostEstimate{Nights: len(fit.nights), Method: fit.method, Err: fit.err}
	switch {
	case fit.method == "":
		est = frostGuess(h, e, midwinter)
		est.Nights = len(fit.nights)
	case e.DewOK:
		est.Low = fit.line.At(e.T, e.Dew)
	default:
		est.Low, est.Err, est.Method = fit.bare.At(e.T, 0), fit.bareEr, "temperature only"
	}
	if d, err, ok := fit.terms.at(sky); ok && !est.Guess {
		est.Low, est.Err, est.Method = est.Low+d, err, est.Method+" with sky and wind"
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

// LeaveOneOut gives the error in °C of the fit for a reading on its own nights, and how many there are; false under eight.
func (f *FrostFit) LeaveOneOut(h FrostHour) (err float64, nights int, ok bool) {
	fit := &f.fits[h]
	fit.refit()
	return fit.err, len(fit.nights), fit.method != ""
}

// skyTerms add to a clear calm night's minimum for wind (m/s, at most 6) and cloud (0 to 1).
type skyTerms struct {
	perWind, perCloud, err float64
	wind, cloud            bool
}

// fitTerms regresses what the line leaves on wind and cloud, with a ridge of two nights' worth so that little data says little.
func fitTerms(nights []skyNight, line FrostLine) skyTerms {
	var k skyTerms
	var ww, wc, cc, wr, cr float64
	nw, nc := 0, 0
	for _, n := range nights {
		w, c := skyOf(n.sky)
		r := float64(n.l)/1000 - line.At(float64(n.t)/1000, float64(n.d)/1000)
		ww, wc, cc, wr, cr = ww+w*w, wc+w*c, cc+c*c, wr+w*r, cr+c*r
		if n.sky.WindOK {
			nw++
		}
		if n.sky.ClearOK {
			nc++
		}
	}
	k.wind, k.cloud = nw >= frostTermLeast, nc >= frostTermLeast
	if !k.wind && !k.cloud {
		return k
	}
	ww, cc = ww+8, cc+1
	if !k.wind || !k.cloud {
		wc = 0
	}
	det := ww*cc - wc*wc
	if k.wind {
		k.perWind = max(0, (wr*cc-cr*wc)/det)
	}
	if k.cloud {
		k.perCloud = max(0, (cr*ww-wr*wc)/det)
	}
	var sum float64
	for _, n := range nights {
		w, c := skyOf(n.sky)
		d := float64(n.l)/1000 - line.At(float64(n.t)/1000, float64(n.d)/1000) - k.perWind*w - k.perCloud*c
		sum += d * d
	}
	k.err = math.Sqrt(sum / float64(max(1, len(nights)-5))) // three of the line, two of the terms
	return k
}

func skyOf(s FrostSky) (wind, cloud float64) {
	if s.WindOK {
		wind = min(s.Wind, 6)
	}
	if s.ClearOK {
		cloud = 1 - s.Clear
	}
	return wind, cloud
}

func (k skyTerms) at(s FrostSky) (add, err float64, ok bool) {
	w, c := skyOf(s)
	if !(k.wind && s.WindOK || k.cloud && s.ClearOK) {
		return 0, 0, false
	}
	return k.perWind*w + k.perCloud*c, k.err, true
}
