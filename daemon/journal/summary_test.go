package journal

import (
	"path/filepath"
	"testing"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

func dateOn(t time.Time) garden.Date { return garden.Calendar{Zone: time.UTC}.DateOf(t) }

// slowDays works the summaries out again from the entries alone, the plain way.
func slowDays(t *testing.T, j *Journal, probe sensors.ProbeID, zone *time.Location) map[garden.Date]Day {
	t.Helper()
	cal := garden.Calendar{Zone: zone}
	days := map[garden.Date]Day{}
	raw := map[garden.Date]int64{}
	for _, r := range roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})) {
		for _, rd := range r.Readings {
			if rd.Probe != probe || rd.Quality != sensors.Valid {
				continue
			}
			date := cal.DateOf(r.At)
			d, v := days[date], rd.Whole()
			if d.N == 0 {
				d = Day{Date: date, Zone: zone.String(), Unit: rd.Step.Unit, Min: v, Max: v}
			}
			d.N, d.Min, d.Max = d.N+1, min(d.Min, v), max(d.Max, v)
			raw[date] += rd.Raw
			d.Sum = rd.Step.Of(raw[date])
			days[date] = d
		}
	}
	return days
}

func TestDaySummariesAreThoseOfTheReadings(t *testing.T) {
	for _, name := range []string{"UTC", "Europe/Berlin", "Pacific/Auckland", "America/St_Johns", "Pacific/Apia"} {
		zone, err := time.LoadLocation(name)
		if err != nil {
			t.Skip(err)
		}
		path := filepath.Join(dir(t), "j.journal")
		j := open(t, path, Options{Zone: zone})
		start := time.Date(2026, 3, 26, 7, 0, 0, 0, time.UTC) // over a change of the clocks in Berlin
		rs := rounds(start, 20*time.Minute, 72*8+11, 3)
		rs = append(rs, rounds(start.Add(12*24*time.Hour), 20*time.Minute, 200, 3)...) // after days without a round
		keepAll(t, j, rs)
		checkDays := func(when string, j *Journal, zone *time.Location) {
			t.Helper()
			for _, probe := range []sensors.ProbeID{"p00", "p01"} {
				want := slowDays(t, j, probe, zone)
				got, err := j.DaySummary(bg, probe, 0, 1<<20-1)
				if err != nil || len(got) != len(want) {
					t.Fatalf("%s, %s: %d days, want %d; %v", name, when, len(got), len(want), err)
				}
				for _, d := range got {
					w := want[d.Date]
					if w.Covered = d.Covered; d != w {
						t.Errorf("%s, %s: %+v, want %+v", name, when, d, w)
					}
					if d.Covered < 0 || d.Covered > garden.Calendar.Length(garden.Calendar{Zone: zone}, d.Date) {
						t.Errorf("%s, %s: %v covers %v", name, when, d.Date, d.Covered)
					}
				}
			}
		}
		checkDays("as kept", j, zone)
		_ = j.Close()
		other := time.FixedZone("UTC+5:45", 20700)
		j = open(t, path, Options{Zone: other})
		checkDays("read for another zone", j, other)
		if yes, err := j.SummedElsewhere(bg); err != nil || !yes {
			t.Errorf("the zone has changed and nobody knows: %v", err)
		}
		if err := j.RebuildDays(bg); err != nil {
			t.Fatal(err)
		}
		checkDays("rebuilt", j, other)
		if n, _, _ := j.c.number("select count(distinct zone) from day"); n != 1 {
			t.Errorf("summaries of %d zones lie together", n)
		}
		_ = j.Close()
	}
}

func TestACoveredDayIsCoveredWhole(t *testing.T) {
	j := fresh(t)
	var rs []sensors.Round
	for i := range 288 * 3 {
		rs = append(rs, sensors.Round{At: t0.Add(time.Duration(i) * 5 * time.Minute), Readings: []sensors.Reading{{Probe: "a", Raw: int64(i), Step: sixteenth}}})
	}
	keepAll(t, j, rs)
	days, err := j.DaySummary(bg, "a", dateOn(t0), dateOn(t0)+2)
	if err != nil || len(days) != 3 {
		t.Fatal(days, err)
	}
	for i, d := range days {
		first := int64(288 * i)
		if sum := sixteenth.Of(288*first + 288*287/2); d.Covered != 24*time.Hour || d.N != 288 || d.Sum != sum || d.Mean() != (sum+144)/288 {
			t.Errorf("day %d: %+v", i, d)
		}
	}
}

func TestAProbesReadingsComeADayAtATime(t *testing.T) {
	j := fresh(t)
	rs := rounds(t0, 10*time.Minute, 144*3+7, 4)
	keepAll(t, j, rs)
	from, until := rs[20].At, rs[300].At
	var got []sensors.LateReading
	for s, err := range j.ProbeReadings(bg, "p01", from, until) {
		if err != nil {
			t.Fatal(err)
		}
		for i := range s.At {
			r := sensors.Reading{Probe: "p01", Raw: s.Raw[i], Step: s.Step}
			if s.Suspect != nil && s.Suspect[i] {
				r.Quality = sensors.Suspect
			}
			got = append(got, sensors.LateReading{At: unstamp(s.At[i]), Reading: r})
		}
	}
	var want []sensors.LateReading
	for _, r := range rs[20:300] {
		for _, rd := range r.Readings {
			if rd.Probe == "p01" {
				want = append(want, sensors.LateReading{At: r.At, Reading: rd})
			}
		}
	}
	same(t, "readings", got, want)
}

func TestAProbeThatChangesItsStepGoesOn(t *testing.T) {
	j := fresh(t)
	var rs []sensors.Round
	for i := range 144 * 2 {
		r := sensors.Reading{Probe: "a", Raw: 64, Step: sixteenth}
		if i >= 70 {
			r = sensors.Reading{Probe: "a", Raw: 4001, Step: wholeCelsius}
		}
		rs = append(rs, sensors.Round{At: t0.Add(time.Duration(i) * 10 * time.Minute), Readings: []sensors.Reading{r}})
	}
	keepAll(t, j, rs)
	same(t, "rounds", roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})), rs)
	days, err := j.DaySummary(bg, "a", dateOn(t0), dateOn(t0))
	if err != nil || len(days) != 1 || days[0].N != 144 || days[0].Min != 4000 || days[0].Max != 4001 {
		t.Errorf("%+v, %v", days, err)
	}
	if _, err := j.AddLate(bg, t0, sensors.Late{Readings: []sensors.LateReading{late(rs[100].At, "a", 1)}}); err != nil {
		t.Fatal(err)
	}
	same(t, "after a late reading of the same probe and time", roundsIn(t, j.Entries(bg, time.Time{}, time.Time{})), rs)
}
