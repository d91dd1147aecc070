package garden_test

import (
	"testing"
	"time"

	"lathwatch/sensors/garden"
)

// 2 mL of a 6 % feed in a litre is 120 mg of nitrogen, 100 mg take 1.67 mL: arithmetic.
func TestADoseNeverExceedsTheLabel(t *testing.T) {
	for _, c := range []struct {
		label, want float64
		held        bool
	}{{0, 6, false}, {4, 6, false}, {1.5, 4.5, true}} {
		f := garden.Feeding{GranulesLabel: c.label}
		got, ok := f.Dose(3000)
		if _, held := f.Rate(); got != c.want || !ok || held != c.held {
			t.Errorf("label %g: %g g, held %v", c.label, got, held)
		}
	}
	if _, ok := (garden.Feeding{}).Dose(0); ok {
		t.Error("a pot without a volume has a dose")
	}
	weak := garden.Feeding{LiquidLabel: 1, LiquidN: 6}
	if full := weak.Full(); full.Liquid != 60 || weak.Bottle() != 1 {
		t.Errorf("%g mg/L, %g mL", full.Liquid, weak.Bottle())
	}
	strong := garden.Feeding{LiquidLabel: 2, LiquidN: 6}
	if strong.LiquidMost() != 120 || strong.Full().Liquid != 100 {
		t.Errorf("%g of %g", strong.Full().Liquid, strong.LiquidMost())
	}
}

func TestLiquidFeedStopsAtTheFlowerOrOnTheGroupsOwnDay(t *testing.T) {
	north, south := garden.Calendar{Zone: time.UTC}, garden.Calendar{Zone: time.UTC, South: true}
	day := func(c garden.Calendar, y int, m time.Month, d int) garden.Date {
		return c.DateOf(time.Date(y, m, d, 12, 0, 0, 0, time.UTC))
	}
	habit := garden.Feeding{}.Group("")
	own := garden.Feeding{Hungry: garden.FeedGroup{Until: garden.MonthDay{Month: time.August, Day: 15}}}.Group("hungry")
	if habit.Every != 14 || own.Every != 10 || (garden.Feeding{}).Group("modest").Every != 28 {
		t.Errorf("%+v %+v", habit, own)
	}
	for name, c := range map[string]struct {
		got, want garden.Date
	}{
		"at the flower":      {habit.Stop(north, 2027, day(north, 2027, 5, 20)), day(north, 2027, 5, 20)},
		"no flower":          {habit.Stop(north, 2027, 0), day(north, 2027, 8, 2)},
		"past the flower":    {own.Stop(north, 2027, day(north, 2027, 5, 20)), day(north, 2027, 8, 16)},
		"south, no flower":   {habit.Stop(south, 2027, 0), south.SeasonStart(2027) + 335},
		"south, its own day": {garden.FeedGroup{Until: garden.MonthDay{Month: time.February, Day: 10}}.Stop(south, 2027, 0), day(south, 2028, 2, 11)},
		"south, own January": {garden.FeedGroup{Until: garden.MonthDay{Month: time.December, Day: 24}}.Stop(south, 2027, 0), day(south, 2027, 12, 25)},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, not %v", name, c.got, c.want)
		}
	}
}

func TestAMixIsReadAsWritten(t *testing.T) {
	for _, c := range []struct {
		mix   string
		share float64
		ok    bool
	}{{"80 % pumice, 20 % bark", 20, true}, {"95 % pumice and 5 % bark", 5, true}, {"pumice, bark 20 %", 20, true}, {"4 parts pumice to 1 part bark", 20, true},
		{"3 % peat, 3 % coir, pumice", 6, true}, {"pumice with 10 % bark", 10, true}, {"peat", 100, true}, {"seed compost", 100, true}, {"pumice and bark", 0, false},
		{"pumice 3-8 mm", 0, false}, {"perlite, no bark", 0, false}, {"", 0, false}, {"30 % bark and peat, pumice", 30, true}} {
		if got, ok := garden.OrganicShare(c.mix); got != c.share || ok != c.ok {
			t.Errorf("%q: %g %v", c.mix, got, ok)
		}
	}
}
