package garden

import "lathwatch/sensors/units"

var speaks = [...][]units.Unit{
	PotMoisture:    {units.Voltage, units.Count, units.Moisture, units.Ratio},
	PotTemperature: {units.Temperature},
	AirTemperature: {units.Temperature},
	AirHumidity:    {units.Humidity},
	Rain:           {units.Length},
	Wind:           {units.Speed},
	Light:          {units.Light},
	AirPressure:    {units.Pressure},
	Battery:        {units.Charge, units.Voltage},
	Signal:         {units.Count, units.Charge},
	ForecastMin:    {units.Temperature},
	PotWeight:      {units.Mass},
	Supply:         {units.Voltage, units.Ratio},
}

// Units lists the units a probe that measures m may deliver, the usual one first.
func (m Measures) Units() []units.Unit {
	if int(m) >= len(speaks) {
		return nil
	}
	return speaks[m]
}
