package ical_test

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	outside "github.com/emersion/go-ical"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"lathwatch/dashboards/ical"
	"lathwatch/dashboards/ical/icalread"
)

// read has a general library read a feed: every event with its days and words.
func read(text string) (events []string, err error) {
	cal, err := outside.NewDecoder(strings.NewReader(text)).Decode()
	if err != nil {
		return nil, err
	}
	for _, e := range cal.Events() {
		start, err := e.DateTimeStart(time.UTC)
		if err != nil {
			return nil, err
		}
		end, err := e.DateTimeEnd(time.UTC)
		if err != nil {
			return nil, err
		}
		uid, err := e.Props.Text(outside.PropUID)
		if err != nil {
			return nil, err
		}
		summary, err := e.Props.Text(outside.PropSummary)
		if err != nil {
			return nil, err
		}
		if v := e.Props.Get(outside.PropDateTimeStart).ValueType(); v != outside.ValueDate {
			return nil, fmt.Errorf("%s begins at a %s", uid, v)
		}
		if _, err := e.Props.Get(outside.PropSequence).Int(); err != nil {
			return nil, err
		}
		if _, err := e.RecurrenceSet(time.UTC); err != nil {
			return nil, err
		}
		events = append(events, fmt.Sprintf("%s %s %s %q", uid, start.Format(time.DateOnly), end.AddDate(0, 0, -1).Format(time.DateOnly), summary))
	}
	return events, nil
}

// A general iCalendar library (go-ical, RFC 5545) reads from a feed what our own reader of the tests does, whatever the names are.
func TestAGeneralLibraryReadsTheSame(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		st := standing()
		st.Garden.Plants[0].Name = rapid.StringOf(rapid.SampledFrom([]rune("aé,;\\:\"°ß水🌱 z"))).Draw(rt, "plant") + "x"
		f, err := ical.Of(t.Context(), st, memory{})
		if err != nil {
			rt.Fatal(err)
		}
		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			rt.Fatal(err)
		}
		theirs, err := read(b.String())
		if err != nil {
			rt.Fatalf("%v in\n%s", err, b.String())
		}
		ours, err := icalread.Events(b.String())
		if err != nil {
			rt.Fatal(err)
		}
		var want []string
		for _, e := range ours {
			want = append(want, fmt.Sprintf("%s %s %s %q", e.UID, e.First, e.Last, e.Summary))
		}
		if len(theirs) != 6 || !slices.ContainsFunc(theirs, func(s string) bool {
			return strings.HasPrefix(s, "dress-d7-2027@tansy.lathwatch 2027-03-17 2027-03-31 ")
		}) {
			rt.Errorf("read %v", theirs)
		}
		if diff := cmp.Diff(want, theirs); diff != "" {
			rt.Errorf("our reader (-) and the library (+) differ:\n%s", diff)
		}
	})
}
