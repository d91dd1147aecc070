package indices

import "math"

// skyTerms add to the minimum of all nights for wind (m/s, at most 6) and cloud (0 to 1), each against its mean.
type skyTerms struct {
	perWind, perCloud, err float64
	meanWind, meanCloud    float64
	wind, cloud            bool
}

// fitTerms regresses what the line of all nights leaves on wind and cloud, with a ridge so that little data says little, and keeps
// the terms only when they lower the error by a twentieth.
func fitTerms(set nightSet, skies []FrostSky) skyTerms {
	var k skyTerms
	nw, nc := 0, 0
	for _, s := range skies {
		if s.WindOK {
			k.meanWind, nw = k.meanWind+min(s.Wind, 6), nw+1
		}
		if s.ClearOK {
			k.meanCloud, nc = k.meanCloud+1-s.Clear, nc+1
		}
	}
	k.wind, k.cloud = nw >= frostTermLeast, nc >= frostTermLeast
	k.meanWind, k.meanCloud = k.meanWind/float64(max(1, nw)), k.meanCloud/float64(max(1, nc))
	ww, wc, cc, wr, cr := 8.0, 0.0, 1.0, 0.0, 0.0
	left := make([]float64, len(set.nights))
	for i, n := range set.nights {
		left[i] = float64(n.l)/1000 - set.line.At(float64(n.t)/1000, float64(n.d)/1000)
		w, c := k.off(skies[i])
		ww, wc, cc, wr, cr = ww+w*w, wc+w*c, cc+c*c, wr+w*left[i], cr+c*left[i]
	}
	det := ww*cc - wc*wc
	k.perWind, k.perCloud = max(0, (wr*cc-cr*wc)/det), max(0, (cr*ww-wr*wc)/det)
	var with, without float64
	for i, r := range left {
		w, c := k.off(skies[i])
		d := r - k.perWind*w - k.perCloud*c
		with, without = with+d*d, without+r*r
	}
	if math.Sqrt(with) > frostTermGain*math.Sqrt(without) {
		return skyTerms{}
	}
	k.err = set.err * math.Sqrt(with/without)
	return k
}

// off gives tonight's wind and cloud against their means; 0 for what is not known or has no term.
func (k skyTerms) off(s FrostSky) (wind, cloud float64) {
	if k.wind && s.WindOK {
		wind = min(s.Wind, 6) - k.meanWind
	}
	if k.cloud && s.ClearOK {
		cloud = 1 - s.Clear - k.meanCloud
	}
	return wind, cloud
}

func (k skyTerms) at(s FrostSky) (add, err float64, ok bool) {
	if !(k.wind && s.WindOK || k.cloud && s.ClearOK) {
		return 0, 0, false
	}
	w, c := k.off(s)
	return k.perWind*w + k.perCloud*c, k.err, true
}
