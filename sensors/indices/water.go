package indices

import "time"

// Limits of the wetting events. Eight points in 12 h is what growers take for water that somebody or something brought; drying
// and the daily temperature wave (2 to 5 points) stay under it.
const (
	stepPoints  = 80 // ‰ up within stepWithin
	stepWithin  = 12 * time.Hour
	stepOver    = 12 * time.Hour // without a further rise the event is closed
	feedSalts   = 48 * time.Hour // a noted feed lifts the reading without water for about this long
	noteReach   = 12 * time.Hour // a note explains a rise that begins this close to it
	handleReach = 24 * time.Hour
	contactRise = 50 // ‰: a noted watering must show at least this
)

// StepCause says what a step up of a moisture reading was.
type StepCause uint8

// Causes of a step, the first that fits.
const (
	StepWater   StepCause = iota // water came, from nobody's note: a leak, rain, or a forgotten note
	StepNoted                    // a watering was noted
	StepThaw                     // ice melting
	StepFeed                     // salts of a noted feed
	StepHandled                  // the probe or the pot was handled
)

func (c StepCause) String() string {
	return [...]string{"water", "noted watering", "thaw", "feed", "handling"}[c]
}

// WetStep is one rise of at least 8 points within 12 h; To and At move on while it lasts.
type WetStep struct {
	From, To  int64 // ‰ of drained-full
	Start, At time.Time
	Cause     StepCause
	Open      bool
}

// WetSteps finds wetting events in one pot's reading and tells them from thaw, feed salts and handling. It works on means of
// whole hours and asks two in a row, so that one wrong sample is no event and the sampling rate does not matter. The zero value is ready.
type WetSteps struct {
	hour    int64
	sum, n  int64
	thaw    bool
	bins    []stepBin
	step    WetStep
	thawed  bool // the present step had thaw in it
	any     bool
	watered []noted
	fed     time.Time
	handled time.Time
	contact time.Time
	dirty   time.Time // a noted watering whose effect is still awaited
	before  int64
}

type stepBin struct {
	hour, mean int64
	thaw       bool
}

type noted struct {
	at     time.Time
	points int64
}

// Take feeds a reading in ‰ of drained-full, and whether a rise now would be thaw (FrozenGate.Thawing). Readings of a frozen
// pot are fed too. It reports whether an event began or grew.
func (s *WetSteps) Take(now time.Time, wet int64, thawing bool) bool {
	h := now.Unix() / 3600
	moved := false
	if s.n > 0 && h != s.hour {
		moved = s.closeHour()
	}
	s.hour, s.sum, s.n, s.thaw = h, s.sum+wet, s.n+1, s.thaw || thawing
	return moved
}

func (s *WetSteps) closeHour() bool {
	b := stepBin{s.hour, s.sum / s.n, s.thaw}
	s.sum, s.n, s.thaw = 0, 0, false
	for len(s.bins) > 0 && b.hour-s.bins[0].hour > int64(stepWithin/time.Hour) {
		s.bins = s.bins[1:]
	}
	s.checkContact(b)
	moved := false
	if s.step.Open {
		moved = s.grow(b)
	} else if len(s.bins) > 0 {
		moved = s.begin(b)
	}
	if !moved || !s.step.Open {
		s.bins = append(s.bins, b)
	}
	return moved
}

// begin opens an event when this hour and the last one both stand 8 points over the lowest hour of the last twelve.
func (s *WetSteps) begin(b stepBin) bool {
	base, thaw := 0, b.thaw
	for i, o := range s.bins {
		if o.mean <= s.bins[base].mean {
			base = i
		}
		thaw = thaw || o.thaw
	}
	last := s.bins[len(s.bins)-1]
	low := s.bins[base].mean
	if b.mean-low < stepPoints || last.mean-low < stepPoints {
		return false
	}
	s.step = WetStep{From: low, To: b.mean, Start: hourTime(s.bins[base].hour + 1), At: hourTime(b.hour + 1), Open: true}
	s.any, s.thawed = true, thaw
	s.bins = append(s.bins[:0], b)
	return true
}

func (s *WetSteps) grow(b stepBin) bool {
	s.thawed = s.thawed || b.thaw
	if b.mean > s.step.To+5 {
		s.step.To, s.step.At = b.mean, hourTime(b.hour+1)
		s.bins = append(s.bins[:0], b)
		return true
	}
	if hourTime(b.hour+1).Sub(s.step.At) >= stepOver {
		s.step.Open = false
		s.bins = s.bins[:0]
	}
	return false
}

func hourTime(h int64) time.Time { return time.Unix(h*3600, 0).UTC() }

// Watered tells of a noted watering; points is the rise it should give in ‰, 0 when not known. The note may be back-dated.
func (s *WetSteps) Watered(at time.Time, points int64) {
	s.watered = append(s.watered, noted{at, points})
	if len(s.watered) > 8 {
		s.watered = s.watered[1:]
	}
	if len(s.bins) > 0 && s.bins[len(s.bins)-1].mean < 850 {
		s.dirty, s.before = at, s.bins[len(s.bins)-1].mean
	}
}

// Fed tells of a noted feed: for 48 h a rise is its salts, and the pot is not called wet.
func (s *WetSteps) Fed(at time.Time) { s.fed = at }

// Handled tells that the probe or the pot was handled: repotted, divided, re-seated, marked.
func (s *WetSteps) Handled(at time.Time) { s.handled = at }

// WetHeld says that the pot must not be called wet now because of a feed in the last 48 h.
func (s *WetSteps) WetHeld(now time.Time) bool {
	return !s.fed.IsZero() && !now.Before(s.fed) && now.Sub(s.fed) < feedSalts
}

// Last gives the newest event with its cause in the light of all notes so far.
func (s *WetSteps) Last() (WetStep, bool) {
	step := s.step
	step.Cause = s.cause()
	return step, s.any
}

func (s *WetSteps) cause() StepCause {
	st := s.step
	near := func(at time.Time, before, after time.Duration) bool {
		return !at.IsZero() && !at.Before(st.Start.Add(-before)) && !at.After(st.At.Add(after))
	}
	switch {
	case s.thawed:
		return StepThaw
	case near(s.handled, handleReach, handleReach):
		return StepHandled
	case near(s.fed, feedSalts, noteReach):
		return StepFeed
	}
	points, any := int64(0), false
	for _, w := range s.watered {
		if near(w.at, noteReach, noteReach) {
			if w.points == 0 {
				return StepNoted
			}
			points, any = points+w.points, true
		}
	}
	// Half as much again and 5 points are let pass: amounts are noted by eye.
	if any && st.To-st.From <= points*3/2+contactRise {
		return StepNoted
	}
	return StepWater
}

// checkContact looks, 12 h after a noted watering, whether the reading rose at all.
func (s *WetSteps) checkContact(b stepBin) {
	if s.dirty.IsZero() {
		return
	}
	if b.mean-s.before >= contactRise {
		s.dirty, s.contact = time.Time{}, time.Time{}
	} else if hourTime(b.hour).Sub(s.dirty) >= noteReach {
		s.contact, s.dirty = s.dirty, time.Time{}
	}
}

// PoorContact says which noted watering rose the reading by under 5 points: the probe may not be seeing this pot.
func (s *WetSteps) PoorContact() (at time.Time, ok bool) { return s.contact, !s.contact.IsZero() }
