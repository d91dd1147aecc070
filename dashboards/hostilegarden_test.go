package dashboards

import (
	"lathwatch/alerts"
	"lathwatch/sensors"
)

// namedBank is Lower Tansy Bank with a text wherever a person or a file may write.
func namedBank(s string) *alerts.Standing {
	st := tansyBank()
	g := st.Garden
	g.Site.Name, g.Places[0].Name, g.Places[0].Facing, g.Plants[0].Name, g.Pots[0].Mix = s, s, s, s, s
	st.Sentence, st.Reach, st.Trouble, st.Alerts[0].Text, st.Recent[0].Text = s, s, s, s, s
	st.Places[0].ExpectedHow, st.Pots[0].Verdict, st.Pots[0].BreakHow = s, s, s
	st.Probes[0].Fault, st.Probes[0].FaultWhy, g.Probes[0].Depth = sensors.Garbled, s, s
	return st
}
