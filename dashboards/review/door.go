package review

import (
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"
)

// Source works a season out; season 0 is the newest. Others are the briefs of every other season kept, oldest first.
type Source func(ctx context.Context, season int) (w *Winter, others []*Winter, err error)

// ErrNone is what a Source returns, wrapped, for a season that is not on record.
var ErrNone = errors.New("no reading of that season is on record")

// forms are the ways a review is handed out, by the word in the address.
var forms = []struct {
	as, kind string
	write    func(*Report, io.Writer) error
}{{"html", "text/html; charset=utf-8", (*Report).HTML}, {"svg", "image/svg+xml", (*Report).SVG}, {"png", "image/png", (*Report).PNG}, {"csv", "text/csv; charset=utf-8", (*Report).CSV}}

// Handler serves reviews: ?season=2027&place=wall&as=html, svg, png or csv; html of the newest season when nothing is said. Whoever
// mounts it asks who may read.
func Handler(source Source) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		q := r.URL.Query()
		season, as := 0, q.Get("as")
		if s := q.Get("season"); s != "" {
			n, err := strconv.Atoi(s)
			if err != nil || n < 1900 || n > 2200 {
				http.Error(w, "A season is a year.", http.StatusBadRequest)
				return
			}
			season = n
		}
		if as == "" {
			as = "html"
		}
		for _, f := range forms {
			if f.as == as {
				hand(w, r, source, season, f.kind, f.write)
				return
			}
		}
		http.Error(w, "A review is html, svg, png or csv.", http.StatusBadRequest)
	})
}

// around lists what else there is: the other seasons, each place alone, and the other forms.
func around(r *Report) []Way {
	ways := []Way{{"Today", "/"}}
	q := url.Values{"season": {strconv.Itoa(r.Winter.Season)}}
	at := func(key, v string) string {
		w := url.Values{"season": q["season"]}
		if r.Place != "" {
			w.Set("place", r.Place)
		}
		if w.Set(key, v); v == "" {
			w.Del(key)
		}
		return "?" + w.Encode()
	}
	for _, o := range r.Others {
		if o.Season != r.Winter.Season {
			ways = append(ways, Way{"Season " + strconv.Itoa(o.Season), "?season=" + strconv.Itoa(o.Season)})
		}
	}
	if places := r.Winter.Places; len(places) > 1 {
		if r.Place != "" {
			ways = append(ways, Way{"Every place", at("place", "")})
		}
		for i := range places {
			if places[i].ID != r.Place {
				ways = append(ways, Way{capital(places[i].name()), at("place", places[i].ID)})
			}
		}
	}
	return append(ways, Way{"As a picture", at("as", "png")}, Way{"As a drawing", at("as", "svg")}, Way{"As a table", at("as", "csv")})
}

func hand(w http.ResponseWriter, r *http.Request, source Source, season int, kind string, write func(*Report, io.Writer) error) {
	winter, others, err := source(r.Context(), season)
	switch {
	case errors.Is(err, ErrNone):
		http.Error(w, "No reading of that season is on record.", http.StatusNotFound)
		return
	case err != nil:
		http.Error(w, "The season cannot be worked out just now.", http.StatusInternalServerError)
		return
	}
	rep := &Report{Winter: winter, Others: others, Place: r.URL.Query().Get("place")}
	if rep.Place != "" && !rep.Knows(rep.Place) {
		http.Error(w, "There was no such place in that season.", http.StatusNotFound)
		return
	}
	if strings.HasPrefix(kind, "text/html") {
		rep.Around = around(rep)
	}
	var b bytes.Buffer
	if err := write(rep, &b); err != nil {
		http.Error(w, "The review cannot be drawn just now.", http.StatusInternalServerError)
		return
	}
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'") // the page brings its own style
	w.Write(b.Bytes())
}
