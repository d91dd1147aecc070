package journal

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
)

// A power cut, as far as one machine can play it: the writer's file system lies on an image behind a loop device. What was
// written through to the device is in the image; what is only in the page cache is not. While the writer is stopped the image is
// copied, and the copy is what a board would find after the cut. The device is one that keeps its order and honours flushes; a
// card that does not is not played.
func TestAPowerCutCostsNothingThatWasAcknowledged(t *testing.T) {
	needCards(t)
	series, cuts := 1, 8
	if os.Getenv("LATHWATCH_LONG") == "1" {
		series, cuts = 8, 25
	}
	full := cutSeries(t, "FULL", series, cuts, false)
	t.Logf("FULL: %v", full)
	if len(full.lost) > 0 {
		t.Errorf("%d acknowledged things were not there after a cut, the first: %s", len(full.lost), full.lost[0])
	}
	if full.acknowledged < 20*full.cuts {
		t.Errorf("only %d acknowledgements in %d cuts: the test proves little", full.acknowledged, full.cuts)
	}
	normal := cutSeries(t, "NORMAL", 1, cuts, series == 1)
	t.Logf("NORMAL: %v", normal)
	if len(normal.lost) == 0 {
		t.Fatalf("with no sync at each commit %d cuts lost nothing: the test cannot see a loss and proves nothing", normal.cuts)
	}
}

// A tally counts cuts, those in the middle of what the writer had begun, and what was lost.
type tally struct {
	cuts, losing, acknowledged int
	within                     map[string]int
	lost                       []string
}

func (c tally) String() string {
	return fmt.Sprintf("%d cuts (while a round was kept %d, a day sealed %d, late data added %d, a note %d, a backup made %d, between %d), %d acknowledged, "+
		"%d cuts lost %d of them", c.cuts, c.within["round"], c.within["seal"], c.within["late"], c.within["note"], c.within["backup"], c.within[""], c.acknowledged,
		c.losing, len(c.lost))
}

// cutSeries begins a fresh card for each series. untilLoss ends it with the first loss.
func cutSeries(t *testing.T, how string, series, cuts int, untilLoss bool) tally {
	sum := tally{within: map[string]int{}}
	rng := rand.New(rand.NewPCG(11, 12))
	for range series {
		b := newBoard(t, how)
		for n := range cuts {
			within := b.cutWithin(rng, []string{"", "seal", "", "late", ""}[n%5])
			image := b.copyImage(n)
			b.resume()
			lost := b.lostOn(image, n)
			sum.cuts++
			sum.within[within]++
			sum.lost = append(sum.lost, lost...)
			if len(lost) > 0 {
				sum.losing++
				if untilLoss {
					break
				}
			}
			if n%5 == 4 && len(lost) == 0 { // the board comes up again and goes on with what it found
				b.restart(image)
			} else {
				_ = os.Remove(image)
			}
		}
		sum.acknowledged += len(b.done)
		b.end()
	}
	return sum
}
