package config

import "lathwatch/sensors/units"

// The keys of each block, as written. Defaults stand beside the struct, in the function that reads it.

type siteKeys struct {
	ID        string      `toml:"id"`
	Name      string      `toml:"name"`
	Latitude  *float64    `toml:"latitude"`
	Longitude *float64    `toml:"longitude"`
	Altitude  altitude    `toml:"altitude"`
	Zone      string      `toml:"zone"`
	Every     *units.Span `toml:"every"`
	Clock     string      `toml:"clock"`
	Degrees   string      `toml:"degrees"`
}

type placeKeys struct {
	ID     string `toml:"id"`
	Name   string `toml:"name"`
	Roof   bool   `toml:"roof"`
	Shaded bool   `toml:"shaded"`
	Facing string `toml:"facing"`
}

type plantKeys struct {
	ID        string `toml:"id"`
	Name      string `toml:"name"`
	Regime    string `toml:"regime"`
	Earliness string `toml:"earliness"`
	Tender    string `toml:"tender"`
	Hunger    string `toml:"hunger"`
}

type potKeys struct {
	ID        string       `toml:"id"`
	Plant     string       `toml:"plant"`
	Place     string       `toml:"place"`
	Regime    string       `toml:"regime"`
	Volume    units.Volume `toml:"volume"`
	Material  string       `toml:"material"`
	Mix       string       `toml:"mix"`
	Relatives []string     `toml:"relatives"`
	Faster    []string     `toml:"faster"`
	Like      string       `toml:"like"`
	Since     any          `toml:"since"`
}

type probeKeys struct {
	ID            string             `toml:"id"`
	Measures      string             `toml:"measures"`
	Pot           string             `toml:"pot"`
	Place         string             `toml:"place"`
	Depth         string             `toml:"depth"`
	Shielded      bool               `toml:"shielded"`
	Every         *units.Span        `toml:"every"`
	Unit          string             `toml:"unit"`
	Limits        *limitKeys         `toml:"limits"`
	DrainedFull   measured           `toml:"drained-full"`
	DriestAllowed measured           `toml:"driest-allowed"`
	DriestShare   units.PerMilleFull `toml:"driest-share"`
	Since         any                `toml:"since"`
	Offset        []offsetKeys       `toml:"offset"`

	block *block
}

type limitKeys struct {
	Low  measured `toml:"low"`
	High measured `toml:"high"`
}

type offsetKeys struct {
	From any        `toml:"from"`
	Add  difference `toml:"add"`
	Why  string     `toml:"why"`
}

type normalsKeys struct {
	Mean   []units.MilliCelsius `toml:"mean"`
	Spread []difference         `toml:"spread"`
}

type brokerKeys struct {
	Listen       string `toml:"listen"`
	User         string `toml:"user"`
	PasswordFile string `toml:"password-file"`
	Off          bool   `toml:"off"`
}

type pageKeys struct {
	Listen         string   `toml:"listen"`
	PassphraseFile string   `toml:"passphrase-file"`
	CertFile       string   `toml:"cert-file"`
	KeyFile        string   `toml:"key-file"`
	Hosts          []string `toml:"hosts"`
	OpenReading    bool     `toml:"open-reading"`
	Off            bool     `toml:"off"`
	MetricsToken   string   `toml:"metrics-token-file"`
}

type sitterKeys struct {
	First units.Span `toml:"first"`
	Every units.Span `toml:"every"`
	Hour  units.Span `toml:"hour"`
	Phone string     `toml:"phone"`
}

type logKeys struct {
	Form  string `toml:"form"`
	Level string `toml:"level"`
	Most  int    `toml:"most"`
}

type journalKeys struct {
	Path string `toml:"path"`
}

type backupKeys struct {
	Folder string `toml:"folder"`
	Keep   int    `toml:"keep"`
}

// blockKeys lists the blocks whose keys are ours, for the test that holds the reference against them.
var blockKeys = []struct {
	kind string
	keys any
}{{"site", siteKeys{}}, {"place", placeKeys{}}, {"plant", plantKeys{}}, {"pot", potKeys{}}, {"probe", probeKeys{}}, {"normals", normalsKeys{}}, {"feed", feedKeys{}},
	{"sitter", sitterKeys{}}, {"broker", brokerKeys{}}, {"page", pageKeys{}}, {"journal", journalKeys{}}, {"backup", backupKeys{}}, {"log", logKeys{}}}
