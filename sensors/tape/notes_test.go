package tape_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/sensors"
	"lathwatch/sensors/tape"
)

func TestEveryWordOfANoteIsReadStrictly(t *testing.T) {
	for _, c := range []struct{ row, want string }{
		{"D7,watered,150", "D7 watered [150 mL]"},
		{"D7,watered,0.15 L", "D7 watered [150 mL]"},
		{"D7,watered,", "D7 watered []"},
		{"D7,watered", "D7 watered []"},
		{"D7,watered,lots", `watered: "lots" is not a volume: write it like "3 L" or "150 mL"`},
		{"D7,watered,0", "watered: 0 mL is not an amount for a pot: write mL, like 150"},
		{"all:dry-winter,fed,\"granules, 5 g\"", "all:dry-winter fed [granules, 5 g]"},
		{"all:dry,fed,", `subject "all:dry": there is no regime "dry": write dry-winter, wet-winter, dry-summer, bone-dry`},
		{"D7 and D8,fed,", `subject "D7 and D8": write the id of a pot, plant or place, or all:<regime>`},
		{"D7,wattered,150", `"wattered" is not a word for a note: write one of ` + words()},
		{"D7,moved,wall", "D7 moved [wall]"},
		{"D7,moved,by the wall", `moved: "by the wall": write the id of the place it moved to`},
		{"H12,divided,H12a; H12b", "H12 divided [H12a H12b]"},
		{"H12,divided,H12a", `divided: "H12a": write at least two ids, the one that keeps the probe first`},
		{"H12,divided,H12a H12a", `divided: "H12a H12a": write the ids of the new pots, each once, apart by spaces`},
		{"D7,shoots,8", "D7 shoots [8]"},
		{"D7,shoots,-1", `shoots: "-1": write how many, a whole number`},
		{"D7,shoots,eight", `shoots: "eight": write how many, a whole number`},
		{"D7,lost,slugs in a wet week", "D7 lost [slugs in a wet week]"},
		{"D7,mark,drained-full 1.21 V", "D7 mark [drained-full 1.21 V]"},
		{"D7,mark,D7-m  driest-allowed 412 counts 20 %", "D7 mark [D7-m driest-allowed 412 counts 20 %]"},
		{"D7,mark,drained-full 1.21", `mark: "drained-full 1.21": write drained-full or driest-allowed, then the raw reading with its unit, like drained-full 1.21 V`},
		{"D7,mark,wet 1.21 V", `mark: "wet 1.21 V": write drained-full or driest-allowed, then the raw reading with its unit, like drained-full 1.21 V`},
		{"D7,weighed,2.45 kg", "D7 weighed [2450 g]"},
		{"D7,weighed,2450", "D7 weighed [2450 g]"},
		{"D7,weighed,light", `weighed: "light" is not a number with a unit`},
		{"D7,feel,light", "D7 feel [light]"},
		{"D7,feel,ok", `feel: "ok": write heavy, right or light`},
		{"D7,regime,wet-winter", "D7 regime [wet-winter]"},
		{"D7,regime,wet", `regime: "wet": write one of dry-winter, wet-winter, dry-summer, bone-dry`},
		{"wall,away,2027-08-17", "wall away [2027-08-17]"},
		{"wall,away,2027-08-17T18:00:00+01:00", "wall away [2027-08-17T17:00:00Z]"},
		{"wall,away,a while", `away: "a while": write the first and the last day, like 2027-08-03 2027-08-17`},
		{"D7,nose,above grit", "D7 nose [above grit]"},
		{"D7,nose,above grit, closed", "5 fields: write time,subject,what,detail, a detail with commas in quotes"},
		{"D7,nose,\"above", "it is no row of comma-separated fields: quote a detail that holds a comma or a quote"},
	} {
		notes, bad, err := tape.ReadNotes("notes.csv", strings.NewReader("time,subject,what,detail\n2027-01-28T10:00:00Z,"+c.row+"\n"))
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, n := range notes {
			got = fmt.Sprintf("%s %s [%s]", n.Subject, n.What, n.Detail)
		}
		for _, b := range bad {
			got = strings.TrimPrefix(b.Error(), "notes.csv line 2: ")
		}
		if d := cmp.Diff(c.want, got); d != "" {
			t.Errorf("%s (-want +got)\n%s", c.row, d)
		}
	}
}

func TestTheSameNoteTwiceIsOneNote(t *testing.T) {
	notes, bad, err := tape.ReadNotes("notes.csv", strings.NewReader("time,subject,what,detail\n2027-01-28T10:00:00Z,D7,watered,150\n2027-01-28T11:00:00+01:00,D7,watered,0.15 L\n2027-01-27T10:00:00Z,D7,seen,\n"))
	if err != nil || len(bad) > 0 || len(notes) != 2 || notes[0].What != sensors.Seen || notes[1].ID == notes[0].ID || len(notes[1].ID) != 16 {
		t.Errorf("%v %v %+v", err, bad, notes)
	}
}

func words() string {
	var all []string
	for _, w := range sensors.Whats {
		all = append(all, string(w))
	}
	return strings.Join(all, ", ")
}

func noteGen() *rapid.Generator[sensors.Note] {
	return rapid.Custom(func(t *rapid.T) sensors.Note {
		return sensors.Note{At: at("2027-01-28T10:00:00Z"), Subject: rapid.SampledFrom([]string{"D7", "all:wet-winter"}).Draw(t, "subject"),
			What:   rapid.SampledFrom([]sensors.What{sensors.Lost, sensors.Fed, sensors.Nose, sensors.Seen}).Draw(t, "what"),
			Detail: rapid.String().Draw(t, "detail")}
	})
}

func TestNotesRoundTripExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n, err := tape.Checked(noteGen().Draw(t, "note"))
		if err != nil {
			return // too long for a note
		}
		var b bytes.Buffer
		if err := tape.WriteNotes(&b, []sensors.Note{n}); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		got, bad, err := tape.ReadNotes("x", &b)
		if err != nil || len(bad) > 0 {
			t.Fatalf("%v %v %q", err, bad, text)
		}
		if d := cmp.Diff([]sensors.Note{n}, got); d != "" {
			t.Fatalf("%q (-want +got)\n%s", text, d)
		}
	})
}

func FuzzNotes(f *testing.F) {
	f.Add([]byte("time,subject,what,detail\n2027-01-28T10:00:00Z,D7,fed,\"a \"\"b\"\", c\"\n"))
	f.Add([]byte("time,subject,what,detail\n2027-01-28T10:00:00Z,all:dry-winter,watered,150\n2027-01-28T10:00:00Z,D7,mark,D7-m driest-allowed 412 counts 20 %\n"))
	f.Fuzz(func(t *testing.T, text []byte) {
		notes, _, err := tape.ReadNotes("x", bytes.NewReader(text))
		if err != nil {
			return
		}
		var b bytes.Buffer
		if err := tape.WriteNotes(&b, notes); err != nil {
			t.Fatal(err)
		}
		got, bad, err := tape.ReadNotes("x", &b)
		if err != nil || len(bad) > 0 || cmp.Diff(notes, got) != "" {
			t.Fatalf("%v %v %s", err, bad, cmp.Diff(notes, got))
		}
	})
}
