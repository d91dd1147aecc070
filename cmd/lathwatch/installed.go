package main

import (
	"os"
	"runtime/debug"

	"github.com/alecthomas/kong"
)

// Where an installed service keeps its garden and its journal (Filesystem Hierarchy Standard 3.0, 3.7 and 5.8).
const (
	installedGarden = "/etc/lathwatch/garden.toml"
	installedState  = "/var/lib/lathwatch"
)

// ownFolder are the usual places of a garden that lies in a folder of its own.
var ownFolder = kong.Vars{"garden": "garden.toml", "state": "state"}

// usualPlaces are where garden and state are looked for when no flag says: in this folder, or, where it has neither and a service is
// installed, there.
func usualPlaces() kong.Vars {
	if there("garden.toml") || there("state") || !there(installedGarden) {
		return ownFolder
	}
	return kong.Vars{"garden": installedGarden, "state": installedState}
}

func there(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// buildVersion is what the linker stamped, else what the build knows of its source.
func buildVersion() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unstamped"
	}
	rev, changed := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			rev = s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = "-changed"
		}
	}
	if rev == "" {
		return "unstamped"
	}
	return "unstamped-" + rev[:min(len(rev), 12)] + changed
}
