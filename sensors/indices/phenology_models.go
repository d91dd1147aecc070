package indices

// The models of this file read a run of daily mean temperatures in °C and say on which day of it something happens: an index
// into the run, or false when the run ends before. A day without a mean must be filled by the caller.

// ThermalTime happens on the first day whose sum of Rate, from day From on, reaches Need.
type ThermalTime struct {
	Rate Rate
	From int
	Need float64
}

// Day is the day it happens.
func (m ThermalTime) Day(means []float64) (int, bool) {
	sum := 0.0
	for i := m.From; i < len(means); i++ {
		if sum += m.Rate(means[i]); sum >= m.Need {
			return i, true
		}
	}
	return 0, false
}

// Sequential first needs chilling; forcing counts only from the day after the chilling is done (Sarvas 1974; Hänninen 1990).
type Sequential struct {
	Chill     Rate
	From      int
	ChillNeed float64
	Force     Rate
	ForceNeed float64
}

// Day is the day it happens.
func (m Sequential) Day(means []float64) (int, bool) {
	rested, ok := ThermalTime{m.Chill, m.From, m.ChillNeed}.Day(means)
	if !ok {
		return 0, false
	}
	return ThermalTime{m.Force, rested + 1, m.ForceNeed}.Day(means)
}

// Parallel lets forcing count from the beginning, at a competence that grows from Least to 1 with the chilling received
// (Landsberg 1974; Hänninen 1990).
type Parallel struct {
	Chill     Rate
	From      int
	ChillNeed float64
	Least     float64 // competence without any chilling, 0 to 1
	Force     Rate
	ForceNeed float64
}

// Day is the day it happens.
func (m Parallel) Day(means []float64) (int, bool) {
	chill, force := 0.0, 0.0
	for i := m.From; i < len(means); i++ {
		chill += m.Chill(means[i])
		competence := 1.0
		if m.ChillNeed > 0 {
			competence = m.Least + (1-m.Least)*min(max(chill, 0)/m.ChillNeed, 1)
		}
		if force += competence * m.Force(means[i]); force >= m.ForceNeed {
			return i, true
		}
	}
	return 0, false
}
