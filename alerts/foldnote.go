package alerts

import (
	"strings"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/indices"
	"lathwatch/sensors/units"
)

var stageOf = map[sensors.What]Stage{sensors.Nose: Nose, sensors.Opening: Opening, sensors.Open: Open, sensors.Bud: Bud,
	sensors.Flower: Flower, sensors.LeafDown: LeafDown}

// Note folds what the keeper did or saw.
func (f *Fold) Note(n *sensors.Note) {
	if f.st.Garden == nil {
		return
	}
	if i := f.placeIndex(n.Subject); i >= 0 && n.What == sensors.Done {
		f.placeDone(i)
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
		if n.What == sensors.LeafDown {
			pf.leafDown = true
			pf.cold.Begin(n.At)
		}
		f.phase(n.At, i)
		f.breaks(i, f.st.Cal.DateOf(n.At))
		return
	}
	switch n.What {
	case sensors.Watered:
		ps.Watered = n.At
		pf.steps.Watered(n.At, f.points(i, n.Detail))
		pf.down.Watered()
	case sensors.Fed:
		ps.Fed = n.At
		pf.steps.Fed(n.At)
	case sensors.Dressed:
		f.dressed(i, n.At)
	case sensors.Moved:
		f.move(i, n.At, n.Detail)
	case sensors.Regime:
		pf.regime = n.Detail
		ps.Regime = garden.RegimeNamed(f.regimeName(i))
		pf.dry.Reset()
		pf.wet.Reset()
		f.phase(n.At, i)
	case sensors.ColdDone:
		pf.coldDone = true
		pf.enough = [2]bool{true, true}
		pf.cold.Begin(n.At)
	case sensors.Repotted, sensors.Divided:
		f.newEpoch(i, n.At)
		ps.Repotted = n.At
	case sensors.Marks:
		f.noteMark(i, n)
	case sensors.Done:
		pf.steps.Handled(n.At)
		pf.out.Handled()
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
	pf.steps.Handled(at)
}

// newEpoch voids the marks and the moisture history of a pot that was repotted.
func (f *Fold) newEpoch(i int, at time.Time) {
	pf := &f.pots[i]
	for l := range pf.layers {
		la := &pf.layers[l]
		p := &f.probes[la.probe]
		p.marks = append(p.marks, garden.Mark{From: at, Which: garden.NewEpoch})
		*la = layerFold{probe: la.probe}
	}
	pf.dry, pf.wet = indices.DryClock{}, indices.WetClock{}
	pf.steps.Handled(at)
	pf.out.Handled()
	f.st.Pots[i].WetnessOK, f.st.Pots[i].WetnessAt = false, time.Time{}
}

// noteMark reads "drained-full 1.21 V" or "driest-allowed 2.4 V 20 %", with the probe's id in front where the pot has several.
func (f *Fold) noteMark(i int, n *sensors.Note) {
	words := strings.Fields(n.Detail)
	slot := -1
	for _, la := range f.pots[i].layers {
		if slot < 0 || len(words) > 0 && string(f.st.Probes[la.probe].Probe.ID) == words[0] {
			slot = la.probe
		}
	}
	if slot < 0 {
		return
	}
	if m, ok := ParseMark(n.At, n.Detail); ok {
		f.probes[slot].marks = append(f.probes[slot].marks, m)
	}
}

// ParseMark reads a mark note's detail.
func ParseMark(at time.Time, detail string) (garden.Mark, bool) {
	m := garden.Mark{From: at, Share: -1}
	words := strings.Fields(detail)
	for k, w := range words {
		if m.Which.UnmarshalText([]byte(w)) != nil {
			continue
		}
		rest := strings.Join(words[k+1:], " ")
		value, share, two := cutSecond(rest)
		raw, _, err := units.Parse(value)
		if err != nil {
			return m, false
		}
		m.Raw = raw
		if m.Which == garden.DrainedFull {
			m.Share = 1000
		}
		if two {
			if s, err := units.ParseAs(share, units.Moisture); err == nil {
				m.Share = units.PerMilleFull(s)
			}
		}
		return m, true
	}
	return m, false
}

// cutSecond splits "2.4 V 20 %" into its two quantities.
func cutSecond(s string) (first, second string, two bool) {
	words := strings.Fields(s)
	for k := 1; k < len(words); k++ {
		first, second = strings.Join(words[:k], " "), strings.Join(words[k:], " ")
		if _, _, err := units.Parse(first); err == nil {
			return first, second, true
		}
	}
	return s, "", false
}
