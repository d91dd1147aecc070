package dashboards

import (
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
)

func TestTickedPotsAreNoted(t *testing.T) {
	now := time.Date(2027, 1, 26, 14, 7, 0, 0, time.UTC)
	noon := func(day int) time.Time { return time.Date(2027, 1, day, 12, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name string
		form url.Values
		want []sensors.Note
	}{
		{"watered now", url.Values{"what": {"watered"}, "pot": {"B1", "B3"}, "amount": {"150"}},
			[]sensors.Note{{At: now, Subject: "B1", What: "watered", Detail: "150 mL"}, {At: now, Subject: "B3", What: "watered", Detail: "150 mL"}}},
		{"fed, no amount", url.Values{"what": {"fed"}, "pot": {"B1"}}, []sensors.Note{{At: now, Subject: "B1", What: "fed"}}},
		{"fed, in words", url.Values{"what": {"fed"}, "pot": {"B1"}, "amount": {"900"}, "text": {"at 100 mg/L"}}, []sensors.Note{{At: now, Subject: "B1", What: "fed", Detail: "900 mL at 100 mg/L"}}},
		{"granules", url.Values{"what": {"dressed"}, "pot": {"B1"}, "text": {"6 g"}}, []sensors.Note{{At: now, Subject: "B1", What: "dressed", Detail: "6 g"}}},
		{"all wintered dry by one note", url.Values{"what": {"moved"}, "all": {"dry-winter"}, "place": {"wall"}, "pot": {"B1"}}, []sensors.Note{{At: now, Subject: "all:dry-winter", What: "moved", Detail: "wall"}}},
		{"moved to the other place", url.Values{"what": {"moved"}, "pot": {"B1", "W9"}},
			[]sensors.Note{{At: now, Subject: "B1", What: "moved", Detail: "wall"}, {At: now, Subject: "W9", What: "moved", Detail: "shelter"}}},
		{"moved to a named place", url.Values{"what": {"moved"}, "pot": {"B1"}, "place": {"shelter"}}, []sensors.Note{{At: now, Subject: "B1", What: "moved", Detail: "shelter"}}},
		{"nose yesterday", url.Values{"what": {"nose"}, "pot": {"B1"}, "when": {"yesterday"}}, []sensors.Note{{At: noon(25), About: 12 * time.Hour, Subject: "B1", What: "nose"}}},
		{"opening about a week ago", url.Values{"what": {"opening"}, "pot": {"B1"}, "when": {"week"}}, []sensors.Note{{At: noon(19), About: 72 * time.Hour, Subject: "B1", What: "opening"}}},
		{"flower on a day", url.Values{"what": {"flower"}, "pot": {"B1"}, "when": {"on"}, "day": {"2027-01-02"}}, []sensors.Note{{At: noon(2), About: 12 * time.Hour, Subject: "B1", What: "flower"}}},
		{"today as a day", url.Values{"what": {"flower"}, "pot": {"B1"}, "when": {"on"}, "day": {"2027-01-26"}}, []sensors.Note{{At: noon(26), About: 12 * time.Hour, Subject: "B1", What: "flower"}}},
		{"this morning", url.Values{"what": {"watered"}, "pot": {"B1"}, "when": {"earlier"}}, []sensors.Note{{At: noon(26).Add(-4 * time.Hour), About: 4 * time.Hour, Subject: "B1", What: "watered"}}},
		{"light", url.Values{"what": {"feel light"}, "pot": {"B1"}}, []sensors.Note{{At: now, Subject: "B1", What: "feel", Detail: "light"}}},
		{"in words", url.Values{"what": {"remark"}, "pot": {"B1"}, "text": {" slug  trail\non the rim "}}, []sensors.Note{{At: now, Subject: "B1", What: "remark", Detail: "slug trail on the rim"}}},
	} {
		p, h := open(t, tansyBank(), nil)
		r := ask(t, p, "POST", "/note", c.form, nil)
		if r.Code != http.StatusSeeOther || r.Header.Get("Location") != "/#benches" {
			t.Errorf("%s: %d to %q", c.name, r.Code, r.Header.Get("Location"))
		}
		got := h.taken()
		for i := range got {
			if !got[i].Made.Equal(now) {
				t.Errorf("%s: made %v", c.name, got[i].Made)
			}
			got[i].ID, got[i].Made = "", time.Time{}
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
	}
}

func TestASecondPressWithinTheMinuteIsTheSameNote(t *testing.T) {
	now := tansyNow.Add(4 * time.Second)
	p, h := open(t, tansyBank(), func(c *Config) { c.Now = func() time.Time { return now } })
	form := url.Values{"what": {"watered"}, "pot": {"B1"}}
	ask(t, p, "POST", "/note", form, nil)
	now = now.Add(20 * time.Second)
	ask(t, p, "POST", "/note", form, nil)
	if n := h.taken(); len(n) != 2 || n[0].At != n[1].At {
		t.Errorf("%+v: the same press twice must be the same note", n)
	}
}

func TestWrongFormsAreRefusedInWords(t *testing.T) {
	for name, c := range map[string]struct {
		form url.Values
		say  string
	}{
		"no pot":             {url.Values{"what": {"fed"}}, "No pot was ticked"},
		"unknown pot":        {url.Values{"what": {"fed"}, "pot": {"Z9"}}, `There is no pot "Z9"`},
		"unknown word":       {url.Values{"what": {"sold"}, "pot": {"B1"}}, "not something this page can note"},
		"seen by this door":  {url.Values{"what": {"seen"}, "pot": {"B1"}}, "not something this page can note"},
		"no place like that": {url.Values{"what": {"moved"}, "pot": {"B1"}, "place": {"cellar"}}, `There is no place "cellar"`},
		"empty words":        {url.Values{"what": {"remark"}, "pot": {"B1"}}, "The note is empty"},
		"feels odd":          {url.Values{"what": {"feel odd"}, "pot": {"B1"}}, "light, right or heavy"},
		"amount":             {url.Values{"what": {"watered"}, "pot": {"B1"}, "amount": {"a lot"}}, "not an amount of water"},
		"not a number":       {url.Values{"what": {"watered"}, "pot": {"B1"}, "amount": {"NaN"}}, "not an amount of water"},
		"tomorrow":           {url.Values{"what": {"fed"}, "pot": {"B1"}, "when": {"on"}, "day": {"2027-01-27"}}, "has not come yet"},
		"no day":             {url.Values{"what": {"fed"}, "pot": {"B1"}, "when": {"on"}}, "Which day?"},
		"odd time":           {url.Values{"what": {"fed"}, "pot": {"B1"}, "when": {"soon"}}, "not a time this page knows"},
	} {
		p, h := open(t, tansyBank(), nil)
		r := ask(t, p, "POST", "/note", c.form, nil)
		if r.Code != http.StatusUnprocessableEntity || !strings.Contains(textOf(r.one("h1")), c.say) || len(h.taken()) != 0 {
			t.Errorf("%s: %d %q, %d notes", name, r.Code, textOf(r.one("h1")), len(h.taken()))
		}
	}
}

func TestWithThreePlacesAMoveMustNameOne(t *testing.T) {
	st := tansyBank()
	st.Garden.Places = append(st.Garden.Places, st.Garden.Places[0])
	st.Garden.Places[2].ID = "frame"
	p, h := open(t, st, nil)
	r := ask(t, p, "POST", "/note", url.Values{"what": {"moved"}, "pot": {"B1"}}, nil)
	if r.Code != 422 || len(h.taken()) != 0 {
		t.Errorf("%d, %d notes", r.Code, len(h.taken()))
	}
}

func TestANoteThatCannotBeWrittenIsNotSaidToBe(t *testing.T) {
	p, h := open(t, tansyBank(), nil)
	h.fail = errors.New("disk is full")
	r := ask(t, p, "POST", "/note", url.Values{"what": {"fed"}, "pot": {"B1"}}, nil)
	if r.Code != 500 || !strings.Contains(r.Body, "could not be written down") || strings.Contains(r.Body, "disk is full") {
		t.Errorf("%d %s", r.Code, r.Body)
	}
}

func TestSeenAndLaterAreNotesAboutTheAlert(t *testing.T) {
	p, h := open(t, tansyBank(), nil)
	ask(t, p, "POST", "/alert", url.Values{"kind": {"water-light"}, "subject": {"B3"}, "press": {"seen"}}, nil)
	ask(t, p, "POST", "/alert", url.Values{"kind": {"frost-tonight"}, "subject": {"wall"}, "press": {"later"}}, nil)
	ask(t, p, "POST", "/alert", url.Values{"kind": {"root-cold"}, "subject": {"B9"}, "press": {"seen"}}, nil) // cleared meanwhile
	n := h.taken()
	if len(n) != 2 || n[0].What != sensors.Seen || n[0].Subject != "B3" || n[0].Detail != "water-light" ||
		n[1].What != sensors.Snoozed || n[1].Subject != "wall" || n[1].Detail != "frost-tonight" {
		t.Errorf("%+v", n)
	}
	if got := len(page(t, p, "/").all("#alerts .alert")); got != 1 {
		t.Errorf("%d alerts stay open", got)
	}
}

func TestANoteIsTakenBack(t *testing.T) {
	p, h := open(t, tansyBank(), nil)
	ask(t, p, "POST", "/note", url.Values{"what": {"watered"}, "pot": {"B1"}, "amount": {"150"}}, nil)
	r := page(t, p, "/")
	r.says("#noted li", "B1 watered, 150 mL")
	id := attr(r.one("#noted input[name=id]"), "value")
	ask(t, p, "POST", "/undo", url.Values{"id": {id}, "subject": {"B1"}}, nil)
	if n := h.taken(); n[1].What != sensors.Undo || n[1].Detail != id || n[1].Subject != "B1" {
		t.Errorf("%+v", n[1])
	}
	if len(page(t, p, "/").all("#noted li")) != 0 {
		t.Error("it is still listed")
	}
}

func TestNotesOfTheMiddleOfAClockChangeKeepTheirDay(t *testing.T) {
	st := tansyBank()
	now := time.Date(2027, 3, 29, 9, 0, 0, 0, time.UTC)
	p, h := open(t, st, func(c *Config) { c.Now = func() time.Time { return now } })
	ask(t, p, "POST", "/note", url.Values{"what": {"fed"}, "pot": {"B1"}, "when": {"yesterday"}}, nil)
	if got := h.taken()[0].At; !got.Equal(time.Date(2027, 3, 28, 11, 0, 0, 0, time.UTC)) { // noon of the 23-hour day
		t.Error(got)
	}
}

// A note of manure or of too organic a mix is kept and answered beside it; so is the garden file's own mix on the pot's page.
func TestOrganicFeedsAndMixesAreAnsweredOnThePage(t *testing.T) {
	st := tansyBank()
	potOf(st, "B1").Pot.Mix = "pumice, 20 % bark"
	p, h := open(t, st, nil)
	for _, form := range []url.Values{{"what": {"fed"}, "pot": {"B1"}, "text": {"a little manure"}}, {"what": {"repotted"}, "pot": {"B1"}, "text": {"80 % pumice, 20 % bark"}}} {
		r := ask(t, p, "POST", "/note", form, nil)
		if r.Code != http.StatusSeeOther || r.Header.Get("Location") != "/#noted" {
			t.Errorf("%v: %d to %q", form, r.Code, r.Header.Get("Location"))
		}
	}
	if len(h.taken()) != 2 {
		t.Fatal(h.taken())
	}
	said := page(t, p, "/").all("#noted .warning")
	if len(said) != 2 || !strings.Contains(textOf(said[1]), "Noted, but not advised: manure") || !strings.Contains(textOf(said[0]), "a mix 20 % organic") {
		t.Errorf("%d answers", len(said))
	}
	if r := page(t, p, "/pot/B1"); !strings.Contains(r.Body, "a mix 20 % organic") {
		t.Error("the pot's page says nothing of its mix")
	}
}

func TestAllPotsAtOnceMustBeToldWhereTo(t *testing.T) {
	p, h := open(t, tansyBank(), nil)
	for _, form := range []url.Values{{"what": {"moved"}, "all": {"dry-winter"}}, {"what": {"moved"}, "all": {"no-such"}, "place": {"wall"}}, {"what": {"feel light"}, "all": {"dry-winter"}}} {
		if r := ask(t, p, "POST", "/note", form, nil); r.Code != 422 || len(h.taken()) != 0 {
			t.Errorf("%v: %d, %d notes", form, r.Code, len(h.taken()))
		}
	}
}
