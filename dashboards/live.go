package dashboards

import (
	"encoding/json"
	"fmt"
	"hash/fnv"
	"net/http"
	"strconv"
	"time"

	"lathwatch/alerts"
)

// feedLife ends a feed now and then: the script comes back by itself, and a session that ended meanwhile is noticed.
const feedLife = time.Hour

// live sends the texts of Today that changed, by key, as server-sent events. Each feed looks at the newest Standing by itself, so
// that a slow reader loses steps in between and holds up nobody.
func (p *Pages) live(w http.ResponseWriter, r *http.Request) error {
	if p.feeds.Add(1) > maxFeeds {
		p.feeds.Add(-1)
		w.Header().Set("Retry-After", "60")
		return refuse(http.StatusServiceUnavailable, "Too many pages are open at once for live figures. Load the page anew to see what is new.")
	}
	defer p.feeds.Add(-1)
	rc := http.NewResponseController(w)
	if err := rc.SetWriteDeadline(time.Time{}); err != nil {
		return fmt.Errorf("opening a live feed: %w", err)
	}
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	h.Set("X-Accel-Buffering", "no") // ask a server in front not to hold lines back
	if _, err := fmt.Fprintf(w, "retry: 5000\n\n"); err != nil {
		return nil
	}
	if err := rc.Flush(); err != nil {
		return nil
	}
	look, over := time.NewTicker(p.cfg.LiveEvery), time.After(feedLife)
	defer look.Stop()
	f := feed{p: p, r: r, said: map[string]string{}}
	for {
		if !f.send(w, rc) {
			return nil
		}
		select {
		case <-look.C:
		case <-over:
			return nil
		case <-r.Context().Done():
			return nil
		case <-p.closing.Done():
			return nil
		}
	}
}

// feed remembers what one reader has been told.
type feed struct {
	p     *Pages
	r     *http.Request
	last  *alerts.Standing
	said  map[string]string
	quiet int
}

// send writes what changed; false when the reader has gone.
func (f *feed) send(w http.ResponseWriter, rc *http.ResponseController) bool {
	st := f.p.cfg.Standings.Standing()
	if st == nil || st == f.last {
		if f.quiet++; f.quiet%8 == 0 { // a comment line keeps the way open
			return f.write(w, rc, ":\n\n")
		}
		return true
	}
	f.last, f.quiet = st, 0
	page, err := f.p.todayPage(f.r, st)
	if err != nil {
		return true
	}
	news := map[string]string{}
	for k, v := range liveTexts(page) {
		if f.said[k] != v {
			news[k], f.said[k] = v, v
		}
	}
	data, err := json.Marshal(news)
	if err != nil {
		return true
	}
	return f.write(w, rc, "data: "+string(data)+"\n\n")
}

// write gives the reader a while to take some lines; false when it has gone.
func (f *feed) write(w http.ResponseWriter, rc *http.ResponseController, lines string) bool {
	rc.SetWriteDeadline(time.Now().Add(20 * time.Second))
	_, err := fmt.Fprint(w, lines)
	return err == nil && rc.Flush() == nil
}

// liveTexts gives every text of Today that may change while it lies open, by the key its element carries.
func liveTexts(p *todayPage) map[string]string {
	t := map[string]string{"at": p.At, "sentence": p.Sentence, "stamp": p.Stamp}
	for i := range p.Benches {
		b := &p.Benches[i]
		if b.Air != nil {
			t["air."+b.ID] = b.Air.Now
		}
		for j := range b.Pots {
			v := &b.Pots[j]
			t["left."+v.ID], t["reading."+v.ID], t["water."+v.ID], t["state."+v.ID] = v.Left, v.Reading, v.Water(), v.State
		}
	}
	return t
}

// stamp changes when an alert comes, worsens, is seen or goes.
func stamp(st *alerts.Standing) string {
	h := fnv.New64a()
	for i := range st.Alerts {
		a := &st.Alerts[i]
		fmt.Fprint(h, a.Key, a.Kind, a.Subject, a.Text, a.Seen, a.Later.Unix(), "\n")
	}
	return strconv.FormatUint(h.Sum64(), 36)
}
