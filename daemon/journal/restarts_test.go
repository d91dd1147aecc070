package journal

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"
)

func TestARunThatLeftNoWordIsGivenItsEnd(t *testing.T) {
	j := fresh(t)
	rs := rounds(t0, 5*time.Minute, 3, 2)
	keepAll(t, j, rs)
	for _, c := range []struct {
		what     string
		boot     string
		before   func() error // what the run before said of its own end
		how, as  End
		why, say string
		ended    time.Time
	}{
		{what: "the first start", boot: "one"},
		{what: "no word, same boot", boot: "one", as: Killed, ended: rs[2].At},
		{what: "no word, another boot", boot: "two", as: Cut, ended: rs[2].At},
		{what: "no word, no boot id", boot: "", as: Killed, ended: rs[2].At},
		{what: "words left elsewhere", boot: "three", how: Panicked, why: "panic: nil map", as: Panicked, say: "panic: nil map", ended: rs[2].At},
		{what: "a clean stop", boot: "four", before: func() error { return j.EndStart(bg, t0.Add(time.Hour), Stopped, "") }, as: Stopped, ended: t0.Add(time.Hour)},
		{what: "the first word stands", boot: "five", before: func() error {
			if err := j.EndStart(bg, t0.Add(time.Hour), Hung, "bus w1"); err != nil {
				return err
			}
			return j.EndStart(bg, t0.Add(2*time.Hour), Failed, "exit")
		}, how: Panicked, why: "old", as: Hung, say: "bus w1", ended: t0.Add(time.Hour)},
	} {
		if c.before != nil {
			if err := c.before(); err != nil {
				t.Fatal(err)
			}
		}
		got, err := j.AddStart(bg, Start{At: t0.Add(-time.Minute), Boot: c.boot, Version: "0.1.7"}, c.how, c.why)
		if err != nil {
			t.Fatal(err)
		}
		if got.How != c.as || got.Why != c.say || !got.Ended.Equal(c.ended) {
			t.Errorf("%s: %+v", c.what, got)
		}
	}
	all, err := j.Starts(bg, 3)
	if err != nil || len(all) != 3 || all[0].Boot != "five" || all[0].How != "" || !all[0].Ended.IsZero() || all[1].How != Hung || all[2].How != Stopped {
		t.Errorf("the book says %+v, %v", all, err)
	}
}

func TestTheBookOfStartsStaysSmall(t *testing.T) {
	j := fresh(t)
	for i := range startsKept + 20 {
		if _, err := j.AddStart(bg, Start{At: t0.Add(time.Duration(i) * time.Second), Boot: fmt.Sprint(i)}, "", ""); err != nil {
			t.Fatal(err)
		}
	}
	all, err := j.Starts(bg, 10*startsKept)
	if err != nil || len(all) != startsKept || all[0].Boot != fmt.Sprint(startsKept+19) {
		t.Errorf("%d starts, newest %+v, %v", len(all), all[0], err)
	}
}

func TestTheBookOfStartsIsHadBackFromABrokenFile(t *testing.T) {
	folder := dir(t)
	path := filepath.Join(folder, "j.journal")
	j := open(t, path, Options{})
	keepAll(t, j, rounds(t0, time.Hour, 48, 3))
	for _, boot := range []string{"one", "two", "two"} {
		if _, err := j.AddStart(bg, Start{At: t0, Boot: boot, Version: "0.1.7"}, "", ""); err != nil {
			t.Fatal(err)
		}
	}
	want, _ := j.Starts(bg, 9)
	_ = j.Close()
	if _, err := Salvage(path, filepath.Join(folder, "new.journal")); err != nil {
		t.Fatal(err)
	}
	got, err := open(t, filepath.Join(folder, "new.journal"), Options{}).Starts(bg, 9)
	if err != nil || len(got) != 3 {
		t.Fatal(got, err)
	}
	same(t, "starts", got, want)
}
