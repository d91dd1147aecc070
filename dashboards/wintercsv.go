package dashboards

import (
	"context"
	"encoding/csv"
	"fmt"
	"strconv"
	"time"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/units"
)

// csvReadings writes the air readings of the span, and those of the pot shown, as time, probe, value and unit: raw, without offsets.
func (ws *winterSheet) csvReadings(ctx context.Context, c *csv.Writer) error {
	if err := c.Write([]string{"time", "probe", "value", "unit"}); err != nil {
		return err
	}
	places := []string{ws.q.Place}
	if ws.q.Beside != "" {
		places = append(places, ws.q.Beside)
	}
	var probes []*garden.Probe
	for _, place := range places {
		probes = append(probes, airProbes(ws.st.Garden, place)...)
	}
	for i := range ws.st.Garden.Probes {
		if p := &ws.st.Garden.Probes[i]; ws.q.Pot != "" && p.Pot == ws.q.Pot && p.Measures.InPot() {
			probes = append(probes, p)
		}
	}
	for _, pr := range probes {
		if err := ws.csvProbe(ctx, c, pr); err != nil {
			return err
		}
	}
	return nil
}

// csvProbe writes what one probe said, in its own unit.
func (ws *winterSheet) csvProbe(ctx context.Context, c *csv.Writer, pr *garden.Probe) error {
	u := pr.Unit
	if u == units.None {
		u = pr.Measures.Units()[0]
	}
	for i := range ws.st.Probes {
		if p := &ws.st.Probes[i]; p.Probe.ID == pr.ID && !p.LastAt.IsZero() {
			u = p.Last.Unit()
		}
	}
	for r, err := range ws.p.cfg.Curves.Readings(ctx, pr.ID, ws.q.From, ws.q.Until) {
		if err != nil {
			return fmt.Errorf("reading %s: %w", pr.ID, err)
		}
		if err := c.Write([]string{r.At.UTC().Format(time.RFC3339), string(pr.ID), u.Number(r.Value), u.SenML()}); err != nil {
			return err
		}
	}
	return nil
}

// csvDays writes a row a day: the place's range and mean, and the sums of the season as intervals. °C throughout.
func (ws *winterSheet) csvDays(ctx context.Context, c *csv.Writer) error {
	head := []string{"date", "place", "low_Cel", "high_Cel", "mean_Cel", "covered_s", "degree_days_low", "degree_days_high", "cold_low", "cold_high", "forcing_low", "forcing_high"}
	if ws.q.Pot != "" {
		head = append(head, "pot", "water_percent")
	}
	if err := c.Write(head); err != nil {
		return err
	}
	first, until := ws.cal.SeasonStart(ws.q.Season), min(ws.st.Day, ws.cal.SeasonStart(ws.q.Season+1))
	sums := map[garden.Date]sumPoint{}
	for _, pt := range seasonSums(ws.cal, ws.q.Season, within(ws.all, first, until), until, time.Time{}) {
		sums[pt.Date] = pt
	}
	wet, err := ws.wetByDay(ctx)
	if err != nil {
		return err
	}
	for _, d := range ws.shown(ws.all) {
		mean := ""
		if m, ok := d.Mean(); ok {
			mean = units.Temperature.Number(m)
		}
		row := []string{d.Date.String(), ws.q.Place, units.Temperature.Number(d.Min), units.Temperature.Number(d.Max), mean, strconv.FormatInt(d.Covered, 10), "", "", "", "", "", ""}
		if pt, ok := sums[d.Date]; ok {
			for i, v := range [][2]float64{pt.DegreeDays, pt.Cold, pt.Forcing} {
				row[6+2*i], row[7+2*i] = strconv.FormatFloat(v[0], 'f', 2, 64), strconv.FormatFloat(v[1], 'f', 2, 64)
			}
		}
		if ws.q.Pot != "" {
			row = append(row, ws.q.Pot, wet[d.Date])
		}
		if err := c.Write(row); err != nil {
			return err
		}
	}
	return nil
}

func (ws *winterSheet) wetByDay(ctx context.Context) (map[garden.Date]string, error) {
	ps := potOf(ws.st, ws.q.Pot)
	if ps == nil {
		return nil, nil
	}
	days, err := ws.p.potDays(ctx, ps, ws.cal.DateOf(ws.q.From), ws.cal.DateOf(ws.q.Until)+1)
	if err != nil {
		return nil, err
	}
	wet := map[garden.Date]string{}
	for _, d := range days {
		if d.WetOK {
			wet[d.Day] = units.Moisture.Number(int64(d.Wet))
		}
	}
	return wet, nil
}
