package units

// What UnmarshalText reads, MarshalText writes: quantities pass through JSON and files with their unit.

// MarshalText writes "4.5 °C".
func (t MilliCelsius) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// MarshalText writes "85 %RH".
func (h PerMilleRH) MarshalText() ([]byte, error) { return []byte(h.String()), nil }

// MarshalText writes "20 %".
func (w PerMilleFull) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// MarshalText writes "1.802 V".
func (v MicroVolt) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// MarshalText writes "1013.2 hPa".
func (p Pascal) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// MarshalText writes "400 lx".
func (l Lux) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// MarshalText writes "3 mm".
func (d MicroMetre) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// MarshalText writes "2 m/s".
func (s MillimetrePerSecond) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// MarshalText writes "3 L" or "150 mL".
func (v Volume) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// MarshalText writes "5 min".
func (s Span) MarshalText() ([]byte, error) { return []byte(s.String()), nil }
