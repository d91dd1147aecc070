package vitals

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func TestWhenADaemonIsWell(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*Report)
		line   string // what is not well; "" when all is
	}{
		{"ordinary", func(*Report) {}, ""},
		{"a worker that is not needed says nothing", func(r *Report) { r.Workers[2].Quiet = time.Hour }, ""},
		{"a needed worker is silent", func(r *Report) { r.Workers[1].Ill = "no sign of life for 5m0s" }, "bus w1: no sign of life for 5m0s"},
		{"the card is full", func(r *Report) { r.Rounds.Degraded = true }, "journal: cannot be written"},
		{"the card went read-only", func(r *Report) { r.Journal.ReadOnly = true }, "journal: can only be read"},
		{"the journal hangs", func(r *Report) { r.Journal.Unknown = "context deadline exceeded" }, "journal: gives no answer"},
		{"two rounds and slack", func(r *Report) { r.Rounds.Since = 12 * time.Minute }, ""},
		{"no round for longer", func(r *Report) { r.Rounds.Since = 13 * time.Minute }, "round: none for 13 min"},
		{"one bus of two is unplugged", func(r *Report) { r.Buses[0].Down, r.Buses[0].Answered = 3, time.Hour }, ""},
		{"both, for one round", func(r *Report) { unplug(r, 6*time.Minute) }, ""},
		{"both, for three rounds", func(r *Report) { unplug(r, 16*time.Minute) }, "answers: no probe answers on any bus"},
		{"both, since the start", func(r *Report) { unplug(r, -1) }, "answers: no probe answers on any bus"},
		{"wireless probes alone may be quiet", func(r *Report) { unplug(r, time.Hour); r.Buses[0].Listens, r.Buses[1].Listens = true, true }, ""},
		{"no probe at all", func(r *Report) { r.Buses = nil }, ""},
	} {
		r := ordinary()
		c.change(&r)
		lines, well := r.Well()
		var ill []string
		for _, l := range lines {
			if !l.Well {
				ill = append(ill, l.Name+": "+l.Say)
			}
		}
		if strings.Join(ill, "; ") != c.line || well != (c.line == "") {
			t.Errorf("%s: %v %v", c.name, well, ill)
		}
	}
}

func unplug(r *Report, since time.Duration) {
	for i := range r.Buses {
		r.Buses[i].Down, r.Buses[i].Answered = r.Buses[i].Chips, since
	}
}

// The short answer may be read by anybody on the network: no value, no text of an error, nothing of the garden but bus names.
func TestTheShortAnswerTellsNothingElse(t *testing.T) {
	r := ordinary()
	r.Trouble, r.Sentence, r.Clock.Why, r.Forward.Trouble, r.Ways[0].Trouble = "CANARY1", "CANARY2", "CANARY3", "CANARY4", "CANARY5"
	r.Probes[0].Fault, r.Journal.Unknown, r.Journal.Mended, r.Version, r.Probes[0].ID = "CANARY6", "CANARY7", "CANARY8", "CANARY9", "CANARY10"
	lines, _ := r.Well()
	if got := Shortly(lines); strings.Contains(got, "CANARY") {
		t.Error(got)
	}
}

func TestEverythingWrongIsNamed(t *testing.T) {
	r := ordinary()
	r.Probes[0].Fault, r.Probes[1].Silent, r.Probes[2].At = "garbled: checksum", true, time.Time{}
	r.Journal.Unread, r.Clock, r.Trouble, r.Forward.Trouble = 2, Clock{false, "nobody vouches for it"}, "The card is nearly full.", "writing 5 lines: refused"
	want := []string{"probe d7-t: garbled: checksum", "probe node-b: silent since 2027-01-20 11:58 UTC", "probe node-c: has never answered",
		"journal: 2 parts of the past cannot be read", "forwarder: writing 5 lines: refused", "clock: nobody vouches for it", "The card is nearly full."}
	if diff := cmp.Diff(want, r.Faults()); diff != "" {
		t.Error(diff)
	}
	ok := ordinary()
	if f := ok.Faults(); len(f) > 0 {
		t.Error(f)
	}
}

func TestTheTable(t *testing.T) {
	r := ordinary()
	var b strings.Builder
	if err := r.Write(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"lathwatch 1.2, running for 26 h. Nothing to do.\n", "walker  3 s ago", "10 min", "312 walked, one every 5 min, the newest 90 s ago; 904 readings, 4 of them doubted",
		"31 silent, 2 garbled", "serial /dev/ttyUSB0  2      0           624    25.0 %", "d7-t    pot-temperature  4.1 °C", "3072 KiB and a log of 1024 KiB; 5120 MiB of 8192 MiB free",
		"last backup: 8 h ago", "mail       2", "58 min behind, 5000 lines sent, 1 set aside for good", "1 frost-tonight", "(runs)", "\nAll is well.\n"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing in\n%s", want, b.String())
		}
	}
}

func TestTheTableAsLinesOfJSON(t *testing.T) {
	r := ordinary()
	var b strings.Builder
	if err := r.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	seen := map[string]int{}
	for l := range strings.Lines(b.String()) {
		var v struct{ What string }
		if err := json.Unmarshal([]byte(l), &v); err != nil {
			t.Fatal(l, err)
		}
		seen[v.What]++
	}
	want := map[string]int{"daemon": 1, "needed": 5, "worker": 3, "rounds": 1, "bus": 2, "probe": 3, "journal": 1, "clock": 1, "way": 1, "forwarder": 1, "alert": 1, "start": 1}
	if diff := cmp.Diff(want, seen); diff != "" {
		t.Error(diff)
	}
}
