package rules

import (
	"testing"
	"time"

	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// Growers feed until the flower or until a set day, by group; whatever the autumn, a new season's first months bring no feed to last
// season's leaves.
func TestFeedIsDueUntilItsGroupsStop(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2027, m, d, 9, 0, 0, 0, time.UTC) }
	august := garden.Feeding{Usual: garden.FeedGroup{Until: garden.MonthDay{Month: time.August, Day: 15}}}
	for name, c := range map[string]struct {
		feed      garden.Feeding
		now       time.Time
		stage     alerts.Stage
		stageAt   time.Time
		flower    time.Time
		feeds     int
		fed       time.Time
		due, stop bool
	}{
		"open for two weeks":             {now: day(5, 10), stage: alerts.Open, stageAt: day(4, 20), due: true},
		"fed last week":                  {now: day(5, 10), stage: alerts.Open, stageAt: day(4, 20), fed: day(5, 3)},
		"in flower":                      {now: day(5, 25), stage: alerts.Flower, stageAt: day(5, 20), flower: day(5, 20), fed: day(5, 3), stop: true},
		"in flower, fed on to August":    {feed: august, now: day(6, 20), stage: alerts.Flower, stageAt: day(5, 20), flower: day(5, 20), fed: day(6, 1), due: true},
		"past that day":                  {feed: august, now: day(8, 20), stage: alerts.Flower, stageAt: day(5, 20), flower: day(5, 20), fed: day(8, 1), stop: true},
		"never flowered, August":         {now: day(8, 5), stage: alerts.Open, stageAt: day(4, 20), fed: day(7, 10), stop: true},
		"September, last season's leaf":  {now: day(9, 20), stage: alerts.Open, stageAt: day(4, 20)},
		"September, last season's bloom": {feed: august, now: day(9, 20), stage: alerts.Flower, stageAt: day(5, 20)},
		"all planned feeds given":        {feed: garden.Feeding{Usual: garden.FeedGroup{Feeds: 2}}, now: day(6, 20), stage: alerts.Open, stageAt: day(4, 20), feeds: 2, fed: day(5, 10)},
	} {
		st := bank(2027, c.now.Month(), c.now.Day())
		st.Garden.Feed = c.feed
		p := &st.Pots[0]
		p.Phase, p.Stage, p.StageAt, p.FlowerAt, p.Fed = garden.Growth, c.stage, c.stageAt, c.flower, c.fed
		p.Feeds = make([]alerts.Given, c.feeds)
		if due, stop := ripeness(t, buildFeedDue, st) >= 1, ripeness(t, buildFeedStop, st) >= 1; due != c.due || stop != c.stop {
			t.Errorf("%s: due %v, stop %v", name, due, stop)
		}
	}
}
