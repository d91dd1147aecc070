package garden

import (
	"testing"
	"time"
	_ "time/tzdata" // the zones below must be there on any machine

	"pgregory.net/rapid"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// Changes of civil time as the tz database has them (IANA time zone database): zones without a midnight on the day the clock goes forward,
// zones with two, days of 23 and 25 hours, a day that was left out altogether.
func TestFieldLog(t *testing.T) {
	for _, tt := range []struct {
		name, zone string
		date       Date
		start      string // UTC
		length     time.Duration
	}{
		{"K5_no_midnight_in_Santiago", "America/Santiago", dateOf(2026, 9, 6), "2026-09-06T04:00:00Z", 23 * time.Hour},
		{"K5_the_day_before_in_Santiago", "America/Santiago", dateOf(2026, 9, 5), "2026-09-05T04:00:00Z", 24 * time.Hour},
		{"K5_two_evenings_in_Santiago", "America/Santiago", dateOf(2026, 4, 4), "2026-04-04T03:00:00Z", 25 * time.Hour},
		{"K5_after_two_evenings_in_Santiago", "America/Santiago", dateOf(2026, 4, 5), "2026-04-05T04:00:00Z", 24 * time.Hour},
		{"K5_no_midnight_in_Cairo", "Africa/Cairo", dateOf(2026, 4, 24), "2026-04-23T22:00:00Z", 23 * time.Hour},
		{"K5_autumn_in_Cairo", "Africa/Cairo", dateOf(2026, 10, 29), "2026-10-28T21:00:00Z", 25 * time.Hour},
		{"K5_no_midnight_in_the_Azores", "Atlantic/Azores", dateOf(2026, 3, 29), "2026-03-29T01:00:00Z", 23 * time.Hour},
		{"K5_two_midnights_in_the_Azores", "Atlantic/Azores", dateOf(2026, 10, 25), "2026-10-25T00:00:00Z", 25 * time.Hour},
		{"K5_two_midnights_in_Havana", "America/Havana", dateOf(2026, 11, 1), "2026-11-01T04:00:00Z", 25 * time.Hour},
		{"K5_no_midnight_in_Beirut", "Asia/Beirut", dateOf(2026, 3, 29), "2026-03-28T22:00:00Z", 23 * time.Hour},
		{"K5_half_an_hour_on_Lord_Howe", "Australia/Lord_Howe", dateOf(2026, 10, 4), "2026-10-03T13:30:00Z", 23*time.Hour + 30*time.Minute},
		{"K5_a_day_left_out_in_Apia", "Pacific/Apia", dateOf(2011, 12, 30), "2011-12-30T10:00:00Z", 0},
		{"K5_the_day_after_in_Apia", "Pacific/Apia", dateOf(2011, 12, 31), "2011-12-30T10:00:00Z", 24 * time.Hour},
		{"K6_23_hours_in_Berlin", "Europe/Berlin", dateOf(2026, 3, 29), "2026-03-28T23:00:00Z", 23 * time.Hour},
		{"K6_25_hours_in_Berlin", "Europe/Berlin", dateOf(2026, 10, 25), "2026-10-24T22:00:00Z", 25 * time.Hour},
		{"K6_a_plain_day_in_Berlin", "Europe/Berlin", dateOf(2026, 1, 12), "2026-01-11T23:00:00Z", 24 * time.Hour},
		{"K6_23_hours_in_Christchurch", "Pacific/Auckland", dateOf(2027, 9, 26), "2027-09-25T12:00:00Z", 23 * time.Hour},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := Calendar{Zone: zone(t, tt.zone)}
			start := c.Start(tt.date)
			if start.Format(time.RFC3339) != tt.start || c.Length(tt.date) != tt.length {
				t.Errorf("%v begins %v and lasts %v; want %s, %v", tt.date, start.Format(time.RFC3339), c.Length(tt.date), tt.start, tt.length)
			}
			if tt.length > 0 && (c.DateOf(start) != tt.date || c.DateOf(start.Add(-time.Second)) >= tt.date) {
				t.Errorf("the second before %v is %v, the instant itself %v", start, c.DateOf(start.Add(-time.Second)), c.DateOf(start))
			}
		})
	}
	t.Run("K6_one_in_the_morning_is_that_day_and_not_the_one_before", func(t *testing.T) {
		loc := zone(t, "Europe/Berlin")
		c := Calendar{Zone: loc}
		at := time.Date(2026, 7, 2, 1, 0, 0, 0, loc)
		if d := c.DateOf(at); d != dateOf(2026, 7, 2) || !c.Start(d).Equal(time.Date(2026, 7, 2, 0, 0, 0, 0, loc)) {
			t.Errorf("%v is %v, which begins %v", at, d, c.Start(d))
		}
	})
}

var zones = []string{"UTC", "Europe/Berlin", "Europe/London", "Europe/Dublin", "Africa/Cairo", "Africa/Casablanca", "America/Santiago", "America/Havana", "America/Asuncion",
	"America/Scoresbysund", "America/Nuuk", "America/Sao_Paulo", "America/New_York", "Atlantic/Azores", "Asia/Beirut", "Asia/Tehran", "Asia/Gaza", "Asia/Amman", "Asia/Kathmandu",
	"Australia/Lord_Howe", "Australia/Hobart", "Pacific/Auckland", "Pacific/Chatham", "Pacific/Apia", "Pacific/Kiritimati", "Pacific/Easter", "Antarctica/Troll"}

// Days never overlap and cover everything: every instant lies in exactly the day its local date names.
func TestDaysCoverEverythingOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(zones).Draw(t, "zone")
		loc, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		c := Calendar{Zone: loc}
		at := time.Unix(rapid.Int64Range(time.Date(2007, 1, 1, 0, 0, 0, 0, time.UTC).Unix(), time.Date(2045, 1, 1, 0, 0, 0, 0, time.UTC).Unix()).Draw(t, "at"), 0)
		d := c.DateOf(at)
		if at.Before(c.Start(d)) || !at.Before(c.Start(d+1)) {
			t.Errorf("%s: %v is %v, which lasts from %v to %v", name, at.In(loc), d, c.Start(d).In(loc), c.Start(d+1).In(loc))
		}
	})
}

// The same, at every day and every change of the clock of twenty years.
func TestEveryDayBeginsWithItsFirstInstant(t *testing.T) {
	for _, name := range zones {
		c := Calendar{Zone: zone(t, name)}
		for d := dateOf(2010, 1, 1); d < dateOf(2038, 1, 1); d++ {
			start, next := c.Start(d), c.Start(d+1)
			if next.Before(start) {
				t.Fatalf("%s: %v begins after the next day", name, d)
			}
			if start.Equal(next) {
				continue // a day that was left out
			}
			if c.DateOf(start) != d || c.DateOf(start.Add(-time.Second)) >= d || c.DateOf(next.Add(-time.Second)) != d {
				t.Fatalf("%s: %v runs from %v to %v", name, d, start.In(c.Zone), next.In(c.Zone))
			}
			if l := next.Sub(start); l < 22*time.Hour || l > 26*time.Hour {
				t.Fatalf("%s: %v lasts %v", name, d, l)
			}
		}
	}
}

func TestTonightIsNoonToNoon(t *testing.T) {
	loc := zone(t, "Europe/Berlin")
	c := Calendar{Zone: loc}
	for _, tt := range []struct {
		at   time.Time
		want Date
	}{
		{time.Date(2027, 3, 27, 11, 59, 0, 0, loc), dateOf(2027, 3, 26)},
		{time.Date(2027, 3, 27, 12, 0, 0, 0, loc), dateOf(2027, 3, 27)},
		{time.Date(2027, 3, 28, 4, 0, 0, 0, loc), dateOf(2027, 3, 27)}, // the night the clocks go forward
		{time.Date(2027, 3, 28, 11, 59, 0, 0, loc), dateOf(2027, 3, 27)},
	} {
		if got := c.Night(tt.at); got != tt.want {
			t.Errorf("%v belongs to the night of %v, want %v", tt.at, got, tt.want)
		}
	}
}

// Hemispheres differ only by a shift: a southern date 182 days later is the same day of the same season.
func TestTheSouthIsTheNorthShifted(t *testing.T) {
	north, south := Calendar{Zone: time.UTC}, Calendar{Zone: time.UTC, South: true}
	rapid.Check(t, func(t *rapid.T) {
		d := Date(rapid.Int32Range(int32(dateOf(1990, 1, 1)), int32(dateOf(2090, 1, 1))).Draw(t, "date"))
		if n, s := north.Season(d), south.Season(d+shiftDays); n != s {
			t.Errorf("%v is of season %d in the north, %v of %d in the south", d, n, d+shiftDays, s)
		}
		if n, s := north.SeasonDay(d), south.SeasonDay(d+shiftDays); n != s {
			t.Errorf("%v is day %d in the north, %v day %d in the south", d, n, d+shiftDays, s)
		}
		if k := north.SeasonDay(d); k < 0 || k > 365 {
			t.Errorf("%v is day %d of its season", d, k)
		}
		if s := south.Season(d); d < south.SeasonStart(s) || d >= south.SeasonStart(s+1) {
			t.Errorf("%v is not within southern season %d", d, s)
		}
	})
}

func TestSeasonsAreNamedByTheYearThePlantsComeUp(t *testing.T) {
	north, south := Calendar{Zone: time.UTC}, Calendar{Zone: time.UTC, South: true}
	for _, tt := range []struct {
		c    Calendar
		date Date
		want int
		day  int
	}{
		{north, dateOf(2026, 9, 1), 2027, 0},
		{north, dateOf(2026, 12, 31), 2027, 121},
		{north, dateOf(2027, 1, 1), 2027, 122},
		{north, dateOf(2027, 8, 31), 2027, 364},
		{north, dateOf(2027, 9, 1), 2028, 0},
		{south, dateOf(2027, 3, 2), 2027, 0}, // 182 days after 1 September 2026
		{south, dateOf(2027, 12, 18), 2027, 291},
		{south, dateOf(2028, 2, 29), 2027, 364},
	} {
		if s, k := tt.c.Season(tt.date), tt.c.SeasonDay(tt.date); s != tt.want || k != tt.day {
			t.Errorf("%v is day %d of season %d, want day %d of %d", tt.date, k, s, tt.day, tt.want)
		}
	}
}
