package logbook

import (
	"sync"
	"time"
)

// window is the span in which lines of one key are counted.
const window = time.Minute

// keysMost bounds how many keys are counted at once; further ones share one count until a minute is over.
const keysMost = 1024

// A flow lets so many lines of a key pass in a window that begins with the first of them.
type flow struct {
	most int

	mu   sync.Mutex // guards runs
	runs map[string]*stretch
}

// A stretch is one key's window.
type stretch struct {
	passed, held int
}

func newFlow(most int) *flow { return &flow{most: most, runs: map[string]*stretch{}} }

// pass counts a line. At the end of the window over is told how many were held back, if any were; it runs on the timer's
// goroutine, which ends with it.
func (f *flow) pass(key string, over func(held int)) bool {
	if f.most < 0 {
		return true
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.runs[key] == nil && len(f.runs) >= keysMost {
		key = "" // shared
	}
	s := f.runs[key]
	if s == nil {
		s = &stretch{}
		f.runs[key] = s
		time.AfterFunc(window, func() {
			f.mu.Lock()
			delete(f.runs, key)
			held := s.held
			f.mu.Unlock()
			if held > 0 {
				over(held)
			}
		})
	}
	if s.passed < f.most {
		s.passed++
		return true
	}
	s.held++
	return false
}
