package alerts

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors/garden"
)

// bench is a judge over one rule whose findings the test sets, told the time in quarter hours.
type bench struct {
	t    *testing.T
	st   Standing
	j    *Judge
	find []Finding
	said []Change
	all  []Change
}

func newBench(t *testing.T, rules ...Rule) *bench {
	g := &garden.Garden{Site: garden.Site{Zone: time.UTC}, Places: []garden.Place{{ID: "wall", Name: "the wall"}},
		Pots: []garden.Pot{{ID: "A"}, {ID: "B"}, {ID: "C"}}}
	b := &bench{t: t, st: Standing{Garden: g, Cal: garden.Calendar{Zone: time.UTC}}}
	b.st.Places = []PlaceStanding{{Place: &g.Places[0]}}
	for i := range g.Pots {
		b.st.Pots = append(b.st.Pots, PotStanding{Pot: &g.Pots[i], Place: "wall"})
	}
	for i := range rules {
		kind := rules[i].Kind
		rules[i].Find = func(_ *Standing, found func(Finding)) {
			for _, f := range b.find {
				if f.Facts.Word == kind {
					found(f)
				}
			}
		}
		rules[i].Say = func(g Group) string { return kind + " " + strings.Join(g.Pots(), " ") }
	}
	b.j = NewJudge(rules)
	return b
}

func on(kind, pot string, level int) Finding {
	return Finding{Subject: pot, Place: "wall", Pots: []string{pot}, Ripe: 1, Level: level, Facts: Facts{Word: kind}}
}

// until lets time pass to the instant "02 07:00" of January 2027, a Friday the first.
func (b *bench) until(when string, find ...Finding) {
	b.t.Helper()
	end, err := time.Parse("2006-01-02 15:04", "2027-01-"+when)
	if err != nil {
		b.t.Fatal(err)
	}
	b.find = find
	if b.st.At.IsZero() {
		b.st.At = end
	}
	for ; !b.st.At.After(end); b.st.At = b.st.At.Add(15 * time.Minute) {
		b.st.Day = b.st.Cal.DateOf(b.st.At)
		for _, c := range b.j.Round(&b.st) {
			b.all = append(b.all, c)
			if c.Text != "" && c.Kind != "digest" {
				b.said = append(b.said, c)
			}
		}
	}
}

// told lists what was said as "02 07:00 dry A B".
func (b *bench) told(want ...string) {
	b.t.Helper()
	var got []string
	for _, c := range b.said {
		line := c.At.Format("02 15:04 ") + c.Text
		if c.To != "" {
			line += " to " + c.To
		}
		got = append(got, line)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		b.t.Errorf("told (-want +got):\n%s", diff)
	}
}

func TestNothingIsSaidInQuietHours(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week})
	b.until("05 21:30")
	b.until("06 12:00", on("dry", "A", 1))
	b.told("06 07:00 dry A")
}

func TestAnAlertIsToldOnceUntilItIsWorse(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week})
	b.until("05 08:00")
	b.until("06 08:00", on("dry", "A", 1))
	b.until("08 08:00", on("dry", "A", 2))
	b.until("09 08:00", on("dry", "A", 1)) // wavering is no news
	b.until("10 08:00", on("dry", "A", 2))
	b.until("11 08:00", on("dry", "A", 3))
	b.told("05 08:15 dry A", "06 08:15 dry A", "10 08:15 dry A")
}

func TestWorseningWaitsWhenJustTold(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week})
	b.until("05 08:00")
	b.until("05 09:00", on("dry", "A", 1))
	b.until("06 08:00", on("dry", "A", 2))
	b.told("05 08:15 dry A", "06 07:00 dry A")
}

func TestWhatIsNearlyDueIsToldWithTheRestAndNotAgain(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week, Together: true})
	soon, far := on("dry", "B", 1), on("dry", "C", 1)
	soon.Ripe, far.Ripe = 0.7, 0.5
	b.until("05 08:00")
	b.until("05 12:00", on("dry", "A", 1), soon, far)
	b.until("05 13:00", on("dry", "A", 1), on("dry", "B", 1), far)
	b.told("05 08:15 dry A B")
}

func TestSeenIsQuietUntilWorse(t *testing.T) {
	for _, subject := range []string{"A", "wall"} {
		b := newBench(t, Rule{Kind: "dry", Rank: Week}, Rule{Kind: "wet", Rank: Week})
		b.until("05 21:15")
		b.until("06 06:00", on("dry", "A", 1), on("wet", "B", 1))
		b.j.Note("dry", subject, b.st.At, time.Time{})
		b.until("07 08:00", on("dry", "A", 1), on("wet", "B", 1))
		b.until("08 08:00", on("dry", "A", 2), on("wet", "B", 1))
		b.told("06 07:00 wet B", "07 08:15 dry A")
		if as := b.j.Alerts(); len(as) != 2 || as[0].Seen {
			t.Errorf("after it got worse: %+v", as)
		}
	}
}

func TestSnoozedIsToldAgainIfItStillStands(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week, Linger: time.Hour})
	b.until("05 08:00")
	b.until("05 10:00", on("dry", "A", 1), on("dry", "B", 1))
	later := b.st.At.Add(24 * time.Hour)
	b.j.Note("dry", "A", b.st.At, later)
	b.j.Note("dry", "B", b.st.At, later)
	b.until("07 08:00", on("dry", "A", 1)) // B is over before its time comes
	b.told("05 08:15 dry A", "05 08:15 dry B", "06 10:15 dry A")
}

func TestACauseSilencesItsConsequence(t *testing.T) {
	b := newBench(t, Rule{Kind: "leak", Rank: Week}, Rule{Kind: "wet", Rank: Week, MutedBy: []string{"leak"}})
	b.until("05 08:00")
	b.until("05 12:00", on("leak", "A", 1), on("wet", "A", 1), on("wet", "B", 1))
	b.told("05 08:15 leak A", "05 08:15 wet B")
}

func TestAPausedKindKeepsStillAboutThatPlace(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week, Together: true})
	slow := func(pot string) Finding {
		f := on("dry", pot, 1)
		f.Pause = 72 * time.Hour
		return f
	}
	b.until("05 08:00")
	b.until("05 12:00", slow("A"))
	b.until("09 12:00", slow("A"), slow("B"))
	b.told("05 08:15 dry A", "08 08:15 dry B")
}

func TestAMessageGathersOthersOfItsPlace(t *testing.T) {
	b := newBench(t, Rule{Kind: "cold", Rank: Week, Together: true, Gather: 2 * time.Hour})
	b.until("05 08:00")
	b.until("05 09:00", on("cold", "A", 1))
	b.until("05 12:00", on("cold", "A", 1), on("cold", "B", 1))
	b.told("05 10:15 cold A B")
}

func TestGonePotsAreNotNamed(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week, Together: true})
	b.until("05 08:00")
	b.st.Pots[0].Gone = b.st.At
	b.until("05 12:00", on("dry", "A", 1), on("dry", "B", 1))
	b.told("05 08:15 dry B")
}

// While the keeper is away only what cannot wait rings, the sitter's messages go to the sitter, and what still stands on return is in
// one digest, not pushed.
func TestAwayEndsInOneDigest(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week, Linger: time.Hour}, Rule{Kind: "frost", Rank: Tonight}, Rule{Kind: "visit", Rank: Week, Sitter: true}, Rule{Kind: "wet", Rank: Week, Linger: time.Hour})
	b.until("02 08:00")
	back := time.Date(2027, 1, 13, 19, 0, 0, 0, time.UTC)
	b.st.Away = Away{Since: b.st.At, Until: back.AddDate(0, 0, 7)}
	b.until("08 12:00", on("dry", "A", 1), on("frost", "B", 1), on("wet", "C", 1))
	b.until("13 18:45", on("dry", "A", 1), on("visit", "C", 1)) // wet is over
	b.st.Away.Until = back                                      // a note: back
	b.until("15 12:00", on("dry", "A", 1))
	b.told("02 08:15 frost B", "08 12:15 visit C to sitter", "13 19:00 dry A to digest")
	digests := 0
	for _, c := range b.all {
		if c.Kind == "digest" {
			digests++
			if !strings.Contains(c.Text, "dry A") || c.At.Day() != 13 {
				t.Errorf("digest of %v: %q", c.At, c.Text)
			}
		}
	}
	if digests != 1 {
		t.Errorf("%d digests", digests)
	}
}

// squared runs a judge over the same past as another one and squares it with a record.
func (b *bench) squared(t *testing.T, record []Change, rules ...Rule) (*bench, []Change) {
	o := newBench(t, rules...)
	o.st = b.st
	return o, o.j.Adopt(&o.st, record)
}

// After a changed configuration what is on record and no longer exists is cleared, once.
func TestAChangedGardenIsSquaredOnce(t *testing.T) {
	b := newBench(t, Rule{Kind: "dry", Rank: Week}, Rule{Kind: "wet", Rank: Week})
	b.until("05 08:00")
	b.until("05 12:00", on("dry", "A", 1), on("wet", "B", 1))
	record := slices.Clone(b.all)

	o, found := b.squared(t, record, Rule{Kind: "wet", Rank: Week})
	var states []string
	for _, c := range found {
		states = append(states, c.Kind+" "+c.Subject+" "+c.State.String())
	}
	if diff := cmp.Diff([]string{"dry A cleared", "wet B cleared"}, states); diff != "" {
		t.Error(diff) // no round has found either again yet
	}
	record = append(record, found...)
	if again := o.j.Adopt(&o.st, record); len(again) != 0 {
		t.Errorf("squared again: %v", again)
	}
}

// What the daemon knows of itself is not in the rounds: an alert about it stands over a restart and is not told again.
func TestTroublesStandOverARestart(t *testing.T) {
	rule := Rule{Kind: "storage", Rank: Week, Outside: true, Linger: time.Hour}
	full := on("storage", "", 1)
	full.Subject, full.Pots = "garden", nil
	b := newBench(t, rule)
	b.until("05 08:00")
	b.until("05 12:00", full)
	b.told("05 08:15 storage ")

	o, found := b.squared(t, b.all, rule)
	if len(found) != 0 {
		t.Errorf("squaring wrote %v", found)
	}
	o.until("05 18:00", full)
	o.told()
	o.until("06 09:00")
	if n := len(o.j.Alerts()); n != 0 {
		t.Errorf("%d alerts stand after the trouble ended", n)
	}
}
