package dashboards

import (
	"context"
	"errors"
	"net/http"
	"testing"
	"time"
)

type startBook struct {
	all []Start
	err error
}

func (b startBook) Starts(_ context.Context, n int) ([]Start, error) {
	return b.all[:min(n, len(b.all))], b.err
}

func TestTheGardensPageTellsHowTheProgramStartedAndEnded(t *testing.T) {
	at := tansyNow.Add(-48 * time.Hour)
	p, _ := open(t, tansyBank(), func(c *Config) {
		c.Starts = startBook{all: []Start{{At: at.Add(time.Hour), Version: "0.1.7"},
			{At: at, Version: "0.1.6", Ended: at.Add(59 * time.Minute), Ending: "a hang: bus <w1>: a chip on it has not come back for 16m0s"}}}
	})
	r := page(t, p, "/garden")
	r.says("#starts", "Starts of the program")
	r.says("#starts", "24 Jan 2027 15:07")
	r.says("#starts", "a hang: bus <w1>: a chip on it has not come back")
	r.says("#starts", "runs")
	p, _ = open(t, tansyBank(), nil)
	if n := page(t, p, "/garden").all("#starts"); len(n) != 0 {
		t.Error("a page without a book shows one")
	}
	p, _ = open(t, tansyBank(), func(c *Config) { c.Starts = startBook{err: errors.New("the card is gone")} })
	if got := ask(t, p, http.MethodGet, "/garden", nil, nil); got.Code != http.StatusInternalServerError {
		t.Errorf("a book that cannot be read: %d", got.Code)
	}
}
