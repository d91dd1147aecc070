package drivers

import (
	"errors"
	"fmt"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
	"lathwatch/sensors/units"
)

// Wireless probes whose own gateway speaks MQTT. A payload is a plain decimal or JSON; what is not exactly the configured number
// is refused and counted, never guessed at (null, a missing key and another spelling of a key are not nought).
func init() {
	add(Driver{
		Name: "mqtt-in",
		Doc:  "a probe that arrives as MQTT messages: a plain number, or one field of a JSON payload.",
		Example: `[[probe]]
id = "D7-m"
measures = "pot-moisture"
pot = "D7"
every = "10 min"
[probe.mqtt-in]
topic = "nodes/d7"
value = "sensors.0.moisture"
worth = "1 mV"
time = "sent"
`,
		Parse: parseMQTT,
	})
}

type mqttTable struct {
	Topic   string   `toml:"topic" help:"where it speaks"`
	Value   string   `toml:"value" help:"dotted path into a JSON payload, numbers for places in a list; empty: the payload is the number"`
	Text    bool     `toml:"text" help:"the number may stand in quotation marks"`
	Worth   perCount `toml:"worth" help:"what 1 is worth; 1 in the probe's unit when missing"`
	IfTrue  string   `toml:"if-true" help:"what true is worth; empty: a truth value is refused"`
	IfFalse string   `toml:"if-false" help:"what false is worth"`
	Time    string   `toml:"time" help:"path of the payload's own timestamp, RFC 3339 or Unix seconds or milliseconds; empty: it has none to trust"`
	Same    string   `toml:"same" help:"path of a field that is equal in repeats of one message; empty: repeats are told by their time"`
}

type mqttWish struct {
	mqttTable
	step    units.Step
	isTrue  *int64 // raw
	isFalse *int64
}

const mqttBus = "mqtt"

func parseMQTT(p garden.Probe) (Wish, error) {
	var t mqttTable
	if err := table.Decode(p.Source, &t); err != nil {
		return Wish{}, err
	}
	if t.Topic == "" || strings.ContainsAny(t.Topic, "+#\x00") || len(t.Topic) > 1024 {
		return Wish{}, p.Source.Errorf("topic", "%q: write the one topic the probe speaks on, without + or #", t.Topic)
	}
	if t.Value == "" && t.Time+t.Same != "" {
		return Wish{}, p.Source.Errorf("value", "a plain number has no time and no other fields: give the path of the value too")
	}
	of := mqttWish{mqttTable: t}
	var err error
	if of.step, err = stepFor(p, t.Worth); err != nil {
		return Wish{}, p.Source.Errorf("worth", "%w", err)
	}
	if of.isTrue, err = of.truth(t.IfTrue); err == nil {
		of.isFalse, err = of.truth(t.IfFalse)
	}
	if err != nil {
		return Wish{}, p.Source.Errorf("if-true", "%w", err)
	}
	channel := "the payload"
	if t.Value != "" {
		channel = "field " + t.Value
	}
	return Wish{Probe: p.ID, Bus: mqttBus, Chip: "topic " + t.Topic, Channel: channel, Waits: true, Topic: t.Topic, Every: p.Every, Open: openMQTT, Of: of}, nil
}

func (w mqttWish) truth(s string) (*int64, error) {
	if s == "" {
		return nil, nil
	}
	n, err := units.ParseAs(s, w.step.Unit)
	if err != nil {
		return nil, err
	}
	raw := n * int64(w.step.Den) / int64(w.step.Num)
	return &raw, nil
}

// stepFor gives the step of a source that sends decimals: kept to a ten-thousandth of what 1 is worth.
func stepFor(p garden.Probe, worth perCount) (units.Step, error) {
	u := p.Unit
	if u == units.None {
		u = usualUnit(p.Measures)
	}
	if worth.Unit == units.None {
		if u == units.None {
			return units.Step{}, errors.New("say what 1 is worth, like worth = \"1 mV\"")
		}
		one := int32(1)
		for range u.Digits() {
			one *= 10
		}
		worth.Step = units.Step{Unit: u, Num: one, Den: 1}
	}
	if p.Unit != units.None && worth.Unit != p.Unit {
		return units.Step{}, fmt.Errorf("1 is worth something in %s, but the probe delivers %s", worth.Unit, p.Unit)
	}
	if u = usualUnit(p.Measures); p.Unit == units.None && u != units.None && worth.Unit != u {
		return units.Step{}, fmt.Errorf("1 is worth something in %s, but %s is measured in %s", worth.Unit, p.Measures, u)
	}
	return worth.finer()
}

// usualUnit is the only unit a quantity makes sense in; None where it may be several.
func usualUnit(m garden.Measures) units.Unit {
	switch m {
	case garden.PotTemperature, garden.AirTemperature, garden.ForecastMin:
		return units.Temperature
	case garden.AirHumidity:
		return units.Humidity
	case garden.Rain:
		return units.Length
	case garden.Wind:
		return units.Speed
	case garden.Light:
		return units.Light
	case garden.AirPressure:
		return units.Pressure
	case garden.PotWeight:
		return units.Mass
	case garden.Supply:
		return units.Voltage
	}
	return units.None
}
