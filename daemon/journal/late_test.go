package journal

import (
	"slices"
	"testing"
	"time"

	"lathwatch/sensors"
)

func late(at time.Time, id sensors.ProbeID, raw int64) sensors.LateReading {
	return sensors.LateReading{At: at, Reading: sensors.Reading{Probe: id, Raw: raw, Step: sixteenth}}
}

func TestLateReadingsAreInTheirOwnRoundsOnce(t *testing.T) {
	j := fresh(t)
	rs := rounds(t0, 10*time.Minute, 144*4+20, 6)
	keepAll(t, j, rs)
	batch := sensors.Late{ID: "logger of table A", Readings: []sensors.LateReading{
		late(rs[700-200].At, "a-logger", 70), // of the third day, sealed
		late(rs[10].At, "a-logger", 71),      // of the first day
		late(rs[10].At.Add(time.Minute), "a-logger", 72),
		late(rs[590].At, "a-logger", 73),            // of today, in the tail
		late(rs[10].At, "a-logger", 99),             // the same instant again: the first stays
		late(t0.Add(-72*time.Hour), "a-logger", 74), // before anything else
	}}
	arrived := rs[len(rs)-1].At
	res, err := j.AddLate(bg, arrived, batch)
	if err != nil {
		t.Fatal(err)
	}
	if res.Fresh != 5 || res.Known != 1 || !res.Earliest.Equal(t0.Add(-72*time.Hour)) || !res.Latest.Equal(rs[590].At) {
		t.Errorf("first time: %+v", res)
	}
	if res, err := j.AddLate(bg, arrived, batch); err != nil || res.Fresh != 0 || res.Known != 6 || !res.Earliest.IsZero() {
		t.Errorf("the same batch again: %+v, %v", res, err)
	}
	want := map[int64]int64{stamp(rs[500].At): 70, stamp(rs[10].At): 71, stamp(rs[10].At) + 60000: 72, stamp(rs[590].At): 73,
		stamp(t0.Add(-72 * time.Hour)): 74}
	n, found := 0, 0
	for _, e := range collect(t, j.Entries(bg, time.Time{}, time.Time{})) {
		if e.Late != nil {
			t.Error("the batch is told as well as its readings")
		}
		n++
		r := e.Round
		if raw, ok := want[stamp(r.At)]; ok {
			found++
			if r.Readings[0].Probe != "a-logger" || r.Readings[0].Raw != raw {
				t.Errorf("the round of %v begins with %+v", r.At, r.Readings[0])
			}
			r.Readings = r.Readings[1:]
		}
		if i := int(r.At.Sub(t0) / (10 * time.Minute)); i >= 0 && r.At.Equal(rs[i].At) {
			same(t, "the rest of the round", *r, rs[i])
		}
	}
	if found != 5 || n != len(rs)+2 {
		t.Errorf("%d of 5 late readings in %d entries", found, n)
	}
	spans, err := j.LateSince(bg, 0)
	if err != nil || len(spans) != 4 || spans[0].N != 1 || !spans[1].First.Equal(rs[10].At) || spans[1].N != 2 {
		t.Errorf("what came late: %+v, %v", spans, err)
	}
}

func TestLateReadingsChangeTheDaysSummary(t *testing.T) {
	j := fresh(t)
	var rs []sensors.Round
	for i := range 144 * 2 {
		r := sensors.Round{At: t0.Add(time.Duration(i) * 10 * time.Minute)}
		if i < 30 || i > 60 {
			r.Readings = []sensors.Reading{{Probe: "a", Raw: 64, Step: sixteenth}}
		}
		rs = append(rs, r)
	}
	keepAll(t, j, rs)
	d := dateOn(t0)
	before, err := j.DaySummary(bg, "a", d, d)
	if err != nil || len(before) != 1 || before[0].N != 113 || before[0].Covered != 24*time.Hour-32*10*time.Minute {
		t.Fatalf("before: %+v, %v", before, err)
	}
	var l sensors.Late
	for i := 30; i <= 60; i++ {
		l.Readings = append(l.Readings, late(rs[i].At, "a", 48))
	}
	if _, err := j.AddLate(bg, t0, l); err != nil {
		t.Fatal(err)
	}
	after, err := j.DaySummary(bg, "a", d, d)
	if err != nil || len(after) != 1 || after[0].N != 144 || after[0].Min != 3000 || after[0].Covered != 24*time.Hour {
		t.Errorf("after: %+v, %v", after, err)
	}
}

func TestARoundOfAPastDayIsMergedIntoIt(t *testing.T) {
	j := fresh(t)
	keepAll(t, j, rounds(t0, 10*time.Minute, 144*3, 4))
	past := sensors.Round{At: t0.Add(5 * time.Minute), Readings: []sensors.Reading{{Probe: "p00", Raw: 1, Step: sixteenth}},
		Faults: []sensors.Fault{{Probe: "p01", Kind: sensors.Garbled, Why: "checksum"}}}
	if err := j.Keep(bg, past, nil); err != nil {
		t.Fatal(err)
	}
	got := roundsIn(t, j.Entries(bg, past.At, past.At.Add(time.Second)))
	same(t, "the round", got, []sensors.Round{past})
	if newest, _ := j.Newest(bg); !newest.Equal(t0.Add(71*time.Hour + 50*time.Minute)) {
		t.Errorf("newest went back to %v", newest)
	}
}

func TestHeldRoundsArePlacedWhenTheClockIsTrusted(t *testing.T) {
	j := fresh(t)
	keepAll(t, j, rounds(t0, 10*time.Minute, 20, 3))
	wrong := time.Date(1970, 1, 1, 0, 5, 0, 0, time.UTC)
	for i := range 4 {
		h := HeldRound{Boot: "b2", Mono: time.Duration(90+600*i) * time.Second, Round: round(wrong.Add(time.Duration(i)*10*time.Minute), 3)}
		if i == 3 {
			h.Boot = "b1"
		}
		if err := j.Hold(bg, h); err != nil {
			t.Fatal(err)
		}
	}
	hs, err := j.Held(bg)
	if err != nil || len(hs) != 4 || hs[0].Mono != 90*time.Second {
		t.Fatalf("held: %+v, %v", hs, err)
	}
	same(t, "a held round", hs[1].Round, round(wrong.Add(10*time.Minute), 3))
	began := t0.Add(24 * time.Hour)
	placed, err := j.PlaceHeld(bg, "b2", began)
	if err != nil || len(placed) != 3 {
		t.Fatalf("placed: %+v, %v", placed, err)
	}
	want := hs[1].Round
	want.At = began.Add(690 * time.Second)
	same(t, "placed", roundsIn(t, j.Entries(bg, want.At, want.At.Add(time.Second))), []sensors.Round{want})
	if hs, err := j.Held(bg); err != nil || len(hs) != 1 || hs[0].Boot != "b1" {
		t.Errorf("still held: %+v, %v", hs, err)
	}
}

// A clock set back by an hour is believed again when it has passed the newest row: what was held meanwhile belongs to instants that have
// their rounds already. Both are kept, in the tail and in a day that is sealed; the same round once more is one.
func TestAnHourThatComesTwiceIsKeptTwice(t *testing.T) {
	for name, back := range map[string]time.Duration{"today": 0, "a sealed day": 48 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			j := fresh(t)
			first := rounds(t0, 10*time.Minute, 20, 3)
			keepAll(t, j, first)
			if back > 0 {
				keepAll(t, j, rounds(t0.Add(back), 10*time.Minute, 144, 3))
			}
			var second []sensors.Round
			for i := range 6 {
				r := round(t0.Add(time.Duration(40+i*10)*time.Minute), 3)
				r.Readings = slices.Clone(r.Readings)
				for k := range r.Readings {
					r.Readings[k].Raw += 7
				}
				if err := j.Hold(bg, HeldRound{Boot: "b", Mono: time.Duration(40+i*10) * time.Minute, Round: r}); err != nil {
					t.Fatal(err)
				}
				r.At = r.At.Add(time.Second)
				second = append(second, r)
			}
			for range 2 {
				if _, err := j.PlaceHeld(bg, "b", t0); err != nil {
					t.Fatal(err)
				}
				for i := range second { // the power went before the placing was on record, say: held and placed once more
					r := second[i]
					r.At = r.At.Add(-time.Second)
					if err := j.Hold(bg, HeldRound{Boot: "b", Mono: time.Duration(40+i*10)*time.Minute + time.Second, Round: r}); err != nil {
						t.Fatal(err)
					}
				}
			}
			want := slices.SortedFunc(slices.Values(append(slices.Clone(first), second...)), func(a, b sensors.Round) int { return a.At.Compare(b.At) })
			same(t, "the rounds of both hours", roundsIn(t, j.Entries(bg, t0, t0.Add(200*time.Minute))), want)
		})
	}
}
