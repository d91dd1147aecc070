package alerts

import (
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

var stageOf = map[sensors.What]Stage{sensors.Nose: Nose, sensors.Opening: Opening, sensors.Open: Open, sensors.Bud: Bud,
	sensors.Flower: Flower, sensors.LeafDown: LeafDown}

// Note folds what the keeper did or saw.
func (f *Fold) Note(n *sensors.Note) {
	if f.st.Garden == nil {
		return
	}
	_, poured := n.Poured()
	if i := f.placeIndex(n.Subject); i >= 0 && n.What == sensors.Done && !poured {
		f.placeDone(i)
	}
	if f.awayNote(n) {
		return
	}
	for _, i := range f.Subjects(n.Subject) {
		f.potNote(i, n)
	}
}

// Subjects lists the pots a note's subject means, as indices in the garden's order: a pot, a plant, a place or "all:<regime>".
func (f *Fold) Subjects(subject string) []int {
	if i := f.potIndex(subject); i >= 0 {
		return []int{i}
	}
	var pots []int
	regime, all := strings.CutPrefix(subject, "all:")
	for i := range f.st.Pots {
		p := &f.st.Pots[i]
		if !p.Gone.IsZero() {
			continue
		}
		if all && f.regimeName(i) == regime || !all && (p.Pot.Plant == subject || p.Place == subject) {
			pots = append(pots, i)
		}
	}
	return pots
}

func (f *Fold) potNote(i int, n *sensors.Note) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	if stage, ok := stageOf[n.What]; ok {
		ps.Stage, ps.StageAt = stage, n.At
		f.sawNose(i, n)
		if stage >= Nose && stage < LeafDown && ps.NoseAt.IsZero() {
			ps.NoseAt = n.At
		}
		f.stageDates(ps, stage, n.At)
		if n.What == sensors.LeafDown {
			pf.leafDown = true
			pf.cold.Begin(n.At)
		}
		f.phase(n.At, i)
		f.breaks(i, f.st.Cal.DateOf(n.At))
		return
	}
	if amount, ok := n.Poured(); ok {
		ps.Watered = n.At
		pf.steps.Watered(n.At, f.points(i, amount))
		pf.down.Watered()
		return
	}
	switch n.What {
	case sensors.Fed:
		f.fed(i, n)
	case sensors.Dressed:
		f.dressed(i, n)
	case sensors.Moved:
		f.move(i, n.At, n.Detail)
	case sensors.Regime:
		pf.regime = n.Detail
		ps.Regime = f.regimeOf(i)
		f.resetClocks(n.At, i)
		f.phase(n.At, i)
	case sensors.ColdDone:
		pf.coldDone = true
		pf.enough = [2]bool{true, true}
		pf.cold.Begin(n.At)
	case sensors.Repotted:
		f.newEpoch(i, n.At)
		ps.Repotted = n.At
	case sensors.Divided:
		ps.Repotted = n.At
		f.divide(i, n)
	case sensors.Shoots:
		f.shoots(i, n)
	case sensors.Lost:
		f.gone(i, n.At)
	case sensors.Weighed:
		f.weighed(i, n)
	case sensors.Feel:
		f.feel(i, n)
	case sensors.Marks:
		f.noteMark(i, n)
	case sensors.Done:
		pf.steps.Handled(n.At)
		pf.out.Handled()
		pf.moved, ps.Elsewhere = movedFold{}, ""
	}
}

func (f *Fold) points(i int, detail string) int64 {
	var v units.Volume
	if v.UnmarshalText([]byte(detail)) != nil || f.st.Pots[i].Pot.Litres <= 0 {
		return 0
	}
	return int64(v) * 3000 / int64(f.st.Pots[i].Pot.Litres) // drained-full is about a third of the pot's volume
}

// move puts a pot elsewhere by the ledger; its own history goes on.
func (f *Fold) move(i int, at time.Time, place string) {
	pf, ps := &f.pots[i], &f.st.Pots[i]
	j := f.placeIndex(place)
	if j < 0 {
		return
	}
	pf.place, ps.Place, ps.Moved = j, place, at
	pf.moved, ps.Elsewhere = movedFold{}, ""
	pf.steps.Handled(at)
}

// newEpoch voids the marks and the moisture history of a pot that was repotted. Its freezes stay counted.
func (f *Fold) newEpoch(i int, at time.Time) {
	pf := &f.pots[i]
	for l := range pf.layers {
		la := &pf.layers[l]
		p := &f.probes[la.probe]
		p.noted = append(p.noted, garden.Mark{From: at, Which: garden.NewEpoch})
		f.mergeMarks(la.probe)
		gate := la.gate
		gate.Reseated(at)
		*la = layerFold{probe: la.probe, gate: gate}
	}
	pf.weights = nil
	f.resetClocks(at, i)
	pf.steps.Handled(at)
	pf.out.Handled()
	pf.down.Watered()
	pf.fall = [25]hourWet{}
	ps := &f.st.Pots[i]
	ps.WetnessOK, ps.WetnessAt, ps.NeedsMarks, ps.ProbeOut = false, time.Time{}, len(pf.layers) > 0, time.Time{}
	ps.DaysLeft = Interval{}
}
