package daemon

import "testing"

// What happened to keepers, and what must not come of it.
func TestFieldLog(t *testing.T) {
	t.Run("A6_feed_raises_the_reading", func(t *testing.T) { // salts lift the reading without water: no leak, and no wet verdict for 48 h
		s := loadStory(t, "../testdata/stories/03g.txtar")
		fed := false
		for _, n := range s.notes {
			fed = fed || n.What == "fed"
		}
		if !fed {
			t.Fatal("the tale has no feed in it")
		}
		for _, w := range s.check(t, s.tell(t, nil)) {
			t.Error(w)
		}
	})
}
