package journal

import (
	"context"
	"database/sql/driver"
	"time"
)

// A Start is one start of the daemon and how that run ended.
type Start struct {
	At      time.Time
	Boot    string    // boot id of the kernel, "" where it gives none
	Version string    // of the program
	Ended   time.Time // zero while it runs
	How     End       // "" while it runs
	Why     string    // the end's cause in words, may be empty
}

// End is how a run ended.
type End string

// Ends. A run that could not say so itself was killed, when the next start finds the same boot, or cut off with the board.
const (
	Stopped  End = "stopped"  // asked to
	Failed   End = "failed"   // with an error
	Hung     End = "hung"     // a needed worker gave no sign of life
	Panicked End = "panicked" // the program's own fault
	Killed   End = "killed"   // without a word, on the same boot
	Cut      End = "cut"      // without a word, and the board was started anew: power cut or reset
)

// startsKept bounds the book of starts: a daemon that fails every few minutes must not fill the card.
const startsKept = 1000

const startColumns = "seq, at, boot, version, ended, how, why"

// AddStart writes a start into the book. A run before it that never said how it ended is given its end at the newest round on
// record: how and why, when that run left words behind elsewhere, else Killed or Cut by the boot ids. before is that run as it
// stands afterwards; its At is zero when this is the first.
func (j *Journal) AddStart(ctx context.Context, s Start, how End, why string) (before Start, err error) {
	err = j.do(ctx, "writing down the start", func() error {
		last, err := j.lastStarts(1)
		if err != nil {
			return err
		}
		before = Start{}
		if len(last) > 0 {
			if before, err = j.closeStart(last[0], s.Boot, how, why); err != nil {
				return err
			}
		}
		_, err = j.c.exec("insert into start (at, boot, version, ended, how, why) values (?, ?, ?, 0, '', '')", stamp(s.At), s.Boot, s.Version)
		if err != nil {
			return err
		}
		_, err = j.c.exec("delete from start where seq <= (select max(seq) from start) - ?", startsKept)
		return err
	})
	return before, err
}

// closeStart gives a run that left no word its end.
func (j *Journal) closeStart(s Start, boot string, how End, why string) (Start, error) {
	if s.How != "" {
		return s, nil
	}
	switch {
	case how != "":
		s.How, s.Why = how, why
	case boot == "" || s.Boot == "" || s.Boot == boot:
		s.How = Killed
	default:
		s.How = Cut
	}
	s.Ended = s.At
	if last := unstamp(j.newest); last.After(s.At) {
		s.Ended = last
	}
	return s, j.writeEnd(s)
}

// writeEnd ends the newest start, unless it has ended already.
func (j *Journal) writeEnd(s Start) error {
	_, err := j.c.exec("update start set ended = ?, how = ?, why = ? where seq = (select max(seq) from start) and how = ''", stamp(s.Ended), string(s.How), s.Why)
	return err
}

// EndStart writes how the newest start's run ends; the first word stands.
func (j *Journal) EndStart(ctx context.Context, at time.Time, how End, why string) error {
	return j.do(ctx, "writing down the end", func() error { return j.writeEnd(Start{Ended: at, How: how, Why: why}) })
}

// Starts gives at most n starts, newest first.
func (j *Journal) Starts(ctx context.Context, n int) (all []Start, err error) {
	err = j.with(ctx, "reading the book of starts", func() error {
		all, err = j.lastStarts(n)
		return err
	})
	return all, err
}

func (j *Journal) lastStarts(n int) (all []Start, err error) {
	err = j.c.query("select "+startColumns+" from start order by seq desc limit ?", func(row []driver.Value) error {
		s := Start{At: unstamp(row[1].(int64)), Boot: row[2].(string), Version: row[3].(string), How: End(row[5].(string)), Why: row[6].(string)}
		if ended := row[4].(int64); ended != 0 {
			s.Ended = unstamp(ended)
		}
		all = append(all, s)
		return nil
	}, n)
	return all, err
}
