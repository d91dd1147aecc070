package daemon

import (
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"lathwatch/sensors/tape"
)

// A message about a pot has the pot's last weeks with it; one about no pot has nothing.
func TestAMessageHasItsPotsCurve(t *testing.T) {
	s := loadStory(t, "../testdata/stories/01b.txtar")
	w, err := Rehearsal{Garden: s.garden, Entries: Admit(s.garden, tape.Entries(s.rows, s.garden.Site.Every, nil))}.Run()
	if err != nil {
		t.Fatal(err)
	}
	d := &Daemon{}
	d.standing.Store(w.Standing())
	seen := map[bool]int{}
	for _, c := range d.Standing().Recent {
		name, data, err := d.picture(t.Context(), c.Key)
		if err != nil {
			t.Fatal(err)
		}
		seen[len(data) > 0]++
		if (len(data) > 0) != (len(c.Pots) > 0) {
			t.Errorf("%s about %v has a picture of %d bytes", c.Kind, c.Pots, len(data))
		}
		if len(data) == 0 {
			continue
		}
		if name != "D7.svg" || !strings.Contains(string(data), "D7") {
			t.Errorf("picture %s", name)
		}
		for dec := xml.NewDecoder(strings.NewReader(string(data))); ; {
			if _, err := dec.Token(); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
	}
	if seen[true] == 0 || seen[false] == 0 {
		t.Errorf("pictures %v: the tale must have both", seen)
	}
	if _, data, _ := d.picture(t.Context(), "no such key"); data != nil {
		t.Error("a picture of nothing")
	}
}
