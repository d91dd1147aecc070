package ledger_test

import (
	"strings"
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/dashboards/ledger"
	"lathwatch/dashboards/review"
	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

func TestAFeedNoteIsReadAsWritten(t *testing.T) {
	for _, c := range []struct {
		detail string
		mL, mg float64
		whole  bool
	}{{"300 mL at 100 mg/L", 300, 100, true}, {"0.5 L, 50 ppm", 500, 50, true}, {"100 mg/L", 0, 100, false}, {"300 mL", 300, 0, false}, {"weak", 0, 0, false}, {"", 0, 0, false}} {
		mL, mg, whole := garden.ReadFeed(c.detail)
		if mL != c.mL || mg != c.mg || whole != c.whole {
			t.Errorf("%q: %g mL, %g mg/L, %v", c.detail, mL, mg, whole)
		}
	}
}

// One soak of 300 mL/L at 100 mg/L gives 30 mg of nitrogen a litre: arithmetic.
func TestNitrogenIsCountedPerLitreOfPot(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2027, m, d, 9, 0, 0, 0, time.UTC) }
	date := cal.DateOf
	w := &review.Winter{Season: 2027, Zone: "UTC", Until: date(day(7, 1))}
	p := &review.Pot{ID: "D7", Litres: 3, Opening: date(day(4, 20)), Flower: date(day(5, 20)), Dressed: date(day(4, 1)), DressedG: 6, Released: [2]float64{0.1, 0.12},
		Feeds: []review.Feed{{At: day(4, 21), Detail: "900 mL at 100 mg/L"}, {At: day(5, 5), Detail: "900 mL at 100 mg/L"}, {At: day(6, 1), Detail: "900 mL at 100 mg/L"}}}
	f := ledger.Plan{}.FedOf(w, p, "usual")
	// 2 g/L of 15 % is 300 mg/L of nitrogen in all; a tenth of it is 30.
	if f.Liquid != 90 || f.Granules[0] != 30 || f.Granules[1] < 35.9 || f.Granules[1] > 36.1 || f.Assumed || f.AfterStop != 1 || f.Feeds != 3 || f.Due != 3 {
		t.Errorf("%+v", f)
	}
	p.Feeds[0].Detail = "weak"
	if f := (ledger.Plan{Feeding: garden.Feeding{Liquid: 50}}).FedOf(w, p, "hungry"); f.Liquid != 75 || !f.Assumed || f.Every != 10 {
		t.Errorf("%+v", f)
	}
}

func TestADoseNeverExceedsTheLabelAndCarriesItsCaution(t *testing.T) {
	for _, c := range []struct {
		label float64
		want  string
	}{{0, "6.0\u00a0g: Granules at 2 g for each litre"}, {1.5, "4.5\u00a0g: Granules at 1.5 g for each litre of pot (the label's most)"}, {4, "at 2 g for each litre"}} {
		pot := garden.Pot{ID: "D7", Litres: 3000}
		st := &alerts.Standing{Cal: cal, Season: 2027, Day: cal.SeasonStart(2027) + 200, Garden: &garden.Garden{Feed: garden.Feeding{GranulesLabel: c.label}}, Pots: []alerts.PotStanding{{Pot: &pot}}}
		got := ledger.FedRows(st)[0].Dose + ": " + ledger.PlanOf(st.Garden).How()
		if !strings.Contains(got, c.want) || !strings.Contains(got, "label") || !strings.Contains(got, "pets") {
			t.Errorf("label %g: %q lacks %q", c.label, got, c.want)
		}
	}
}

func TestOrganicFeedsAndMixesAreAnsweredWithAReason(t *testing.T) {
	for _, c := range []struct {
		what   sensors.What
		detail string
		object string // "" nothing to say
	}{{sensors.Fed, "a little manure tea", "manure"}, {sensors.Dressed, "Organic pellets", "organic"}, {sensors.Fed, "urea 46 %", "urea"}, {sensors.Fed, "mineral feed, 100 mg/L", ""},
		{sensors.Fed, "inorganic", ""}, {sensors.Dressed, "granules as the label says", ""}, {sensors.Repotted, "80 % pumice, 20 % bark", "20 % organic"},
		{sensors.Repotted, "95 % pumice and 5 % bark", ""}, {sensors.Repotted, "3 % peat, 3 % coir, pumice", "6 % organic"}, {sensors.Repotted, "pumice", ""}, {sensors.Watered, "150 mL", ""},
		{sensors.Repotted, "peat", "100 % organic"}, {sensors.Repotted, "pumice and some bark", "How much of the mix is organic"}, {sensors.Remark, "fed with worm casts", "worm cast"},
		{sensors.Remark, "compost heap next door", ""}, {sensors.Fed, "weak, without urea", ""}} {
		got := ledger.Objection(sensors.Note{What: c.what, Detail: c.detail})
		if (got == "") != (c.object == "") || !strings.Contains(got, c.object) {
			t.Errorf("%s %q: %q", c.what, c.detail, got)
		}
	}
}

func TestTheReviewNamesAMixTooOrganic(t *testing.T) {
	w := &review.Winter{Zone: "UTC", Pots: []review.Pot{{ID: "A1", Mix: "pumice with 10 % bark"}, {ID: "A2", Mix: "pumice"}}}
	got := ledger.FeedLines(w, &garden.Garden{}, ledger.Plan{})
	if len(got) != 1 || !strings.Contains(got[0], "A1 stands in a mix 10 % organic") {
		t.Error(got)
	}
}
