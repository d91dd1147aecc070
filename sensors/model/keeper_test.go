package model_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"lathwatch/sensors"
	"lathwatch/sensors/model"
)

func TestTheKeeperWatersNextMorningAndWritesItDown(t *testing.T) {
	g := bench()
	g.Pots[0].Relatives = []string{"B"}
	m := model.New(g, 1, start)
	k := m.Keeper()
	noon := start.AddDate(0, 0, 3).Add(12 * time.Hour)
	m.Step(noon)
	k.Notes(noon)
	k.Hear(noon, "water-light", []string{"A"})
	if got := k.Notes(noon.Add(12 * time.Hour)); len(got) != 0 {
		t.Errorf("in the night: %v", got)
	}
	morning := noon.Add(24 * time.Hour)
	m.Step(morning.Add(-3 * time.Hour))
	var got []string
	for _, n := range k.Notes(morning) {
		got = append(got, fmt.Sprint(n.At.Format("02 15:04 "), n.Subject, " ", n.What, " ", n.Detail))
	}
	if d := cmp.Diff([]string{"05 09:45 A watered 150 mL", "05 09:45 B watered 150 mL"}, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if a, _ := m.Truth("A"); a.Ledger.Poured != 0.15 {
		t.Errorf("%.3f L poured", a.Ledger.Poured)
	}
	if again := k.Notes(morning.Add(24 * time.Hour)); len(again) != 0 {
		t.Errorf("twice: %v", again)
	}
}

func TestTheKeeperDoesNotWaterIce(t *testing.T) {
	m := model.New(bench(), 1, start)
	k := m.Keeper()
	at := start
	iced := func() bool { a, _ := m.Truth("A"); return a.Frozen > 0.9 }
	for ; !iced(); at = at.Add(time.Hour) {
		k.Notes(at)
		m.Step(at)
	}
	k.Hear(at, "water-light", []string{"A"})
	for days := 0; ; at = at.Add(time.Hour) {
		for _, n := range k.Notes(at) {
			if n.What != sensors.Watered {
				continue
			}
			if a, _ := m.Truth("A"); a.Frozen > 0.05 {
				t.Fatalf("watered at %v with %.0f %% ice", n.At, 100*a.Frozen)
			}
			if days < 24 {
				t.Errorf("watered after %d hours: the ice cannot have gone", days)
			}
			return
		}
		m.Step(at)
		if days++; days > 24*60 {
			t.Fatal("never watered")
		}
	}
}

func TestTheKeeperCarriesDryRestPotsInAndOut(t *testing.T) {
	m := model.New(bench(), 1, start)
	var got []string
	season(m, 260, func(_ sensors.Round, notes []sensors.Note) {
		for _, n := range notes {
			if n.What == sensors.Moved {
				got = append(got, fmt.Sprint(n.At.Format("2 January "), n.Subject, " ", n.Detail))
			}
		}
	})
	if d := cmp.Diff([]string{"6 November A table", "11 April A wall"}, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}
	if a, _ := m.Truth("A"); a.Place != "wall" {
		t.Error(a.Place)
	}
}
