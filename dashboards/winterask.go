package dashboards

import (
	"net/http"
	"net/url"
	"strconv"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// The winter sheet shows 1 October to 1 June (shifted in the south) unless asked otherwise.
const (
	winterFrom  = 30  // season day of 1 October
	winterUntil = 273 // season day of 1 June, past the end
)

const (
	shortest = 6 * time.Hour
	longest  = 12 * 366 * 24 * time.Hour
	maxCols  = 1500
	// closeUp is the span under which the readings themselves are drawn instead of each day's range.
	closeUp = 28 * 24 * time.Hour
)

// winterAsk is what a winter sheet was asked to show. It is an address: every field stands in it.
type winterAsk struct {
	Season      int // the winter whose sums are drawn
	From, Until time.Time
	Place       string
	Beside      string // another place's lows, "" none
	With        int    // a winter laid over: its season; 0 none, -1 all
	Pot         string
	Cols        int
}

// askWinter reads an address; whatever is missing or cannot be read falls back to the current winter at the first place with air.
func askWinter(st *alerts.Standing, v url.Values) (winterAsk, error) {
	q := winterAsk{Season: st.Season, Cols: 360}
	if n, err := strconv.Atoi(v.Get("season")); err == nil && n > 1970 && n < 2200 {
		q.Season = n
	}
	first := st.Cal.SeasonStart(q.Season)
	q.From, q.Until = st.Cal.Start(first+winterFrom), st.Cal.Start(first+winterUntil)
	from, okFrom := readMoment(st.Cal, v.Get("from"), false)
	until, okUntil := readMoment(st.Cal, v.Get("to"), true)
	if okFrom {
		q.From = from
	}
	if okUntil {
		q.Until = until
	}
	if q.Until.Sub(q.From) < shortest || q.Until.Sub(q.From) > longest {
		return q, refuse(http.StatusUnprocessableEntity, "The span must be six hours to twelve years, beginning before it ends.")
	}
	if v.Get("season") == "" && okFrom {
		mid := q.From.Add(q.Until.Sub(q.From) / 2)
		q.Season = st.Cal.Season(st.Cal.DateOf(mid))
	}
	q.Place, q.Beside = v.Get("place"), v.Get("beside")
	if st.Garden.Place(q.Place) == nil {
		q.Place = firstAirPlace(st.Garden)
	}
	if st.Garden.Place(q.Beside) == nil || q.Beside == q.Place {
		q.Beside = ""
	}
	if v.Get("with") == "all" {
		q.With = -1
	} else if n, err := strconv.Atoi(v.Get("with")); err == nil && n > 1970 && n < 2200 && n != q.Season {
		q.With = n
	}
	if st.Garden.Pot(v.Get("pot")) != nil {
		q.Pot = v.Get("pot")
	}
	if n, err := strconv.Atoi(v.Get("cols")); err == nil {
		q.Cols = min(max(n, 60), maxCols)
	}
	return q, nil
}

// readMoment reads "2027-01-12" or "2027-01-12T06:30" in the site's time. A day as an end means the whole of it.
func readMoment(cal garden.Calendar, s string, end bool) (time.Time, bool) {
	if t, err := time.Parse(time.DateOnly, s); err == nil {
		d := garden.Date(t.Unix() / 86400)
		if end {
			d++
		}
		return cal.Start(d), true
	}
	if t, err := time.ParseInLocation("2006-01-02T15:04", s, cal.Zone); err == nil {
		return t.UTC(), true
	}
	return time.Time{}, false
}

// writeMoment is readMoment's other way.
func writeMoment(cal garden.Calendar, t time.Time, end bool) string {
	d := cal.DateOf(t)
	if cal.Start(d).Equal(t) {
		if end {
			d--
		}
		return d.String()
	}
	return t.In(cal.Zone).Format("2006-01-02T15:04")
}

// values writes the ask as an address's query. Cols is left to the script.
func (q winterAsk) values(cal garden.Calendar) url.Values {
	v := url.Values{"from": {writeMoment(cal, q.From, false)}, "to": {writeMoment(cal, q.Until, true)}, "place": {q.Place}, "season": {strconv.Itoa(q.Season)}}
	if q.Beside != "" {
		v.Set("beside", q.Beside)
	}
	switch {
	case q.With < 0:
		v.Set("with", "all")
	case q.With > 0:
		v.Set("with", strconv.Itoa(q.With))
	}
	if q.Pot != "" {
		v.Set("pot", q.Pot)
	}
	return v
}

func (q winterAsk) address(cal garden.Calendar) string { return "/winter?" + q.values(cal).Encode() }

// near reports a span short enough for the readings themselves.
func (q winterAsk) near() bool { return q.Until.Sub(q.From) < closeUp }

// zoomed gives the ask with its span moved by share of its length and widened or narrowed about its middle.
func (q winterAsk) zoomed(move, size float64) winterAsk {
	span := q.Until.Sub(q.From)
	mid := q.From.Add(span/2 + time.Duration(move*float64(span)))
	half := min(max(time.Duration(size*float64(span)), shortest), longest) / 2
	q.From, q.Until = mid.Add(-half).Truncate(time.Minute), mid.Add(half).Truncate(time.Minute)
	return q
}

func firstAirPlace(g *garden.Garden) string {
	for i := range g.Places {
		if len(airProbes(g, g.Places[i].ID)) > 0 {
			return g.Places[i].ID
		}
	}
	if len(g.Places) > 0 {
		return g.Places[0].ID
	}
	return ""
}

// airProbes lists a place's thermometers in the garden's order.
func airProbes(g *garden.Garden, place string) []*garden.Probe {
	var ps []*garden.Probe
	for i := range g.Probes {
		if p := &g.Probes[i]; p.Place == place && p.Measures == garden.AirTemperature {
			ps = append(ps, p)
		}
	}
	return ps
}
