package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"lathwatch/daemon/journal"
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

// openToWrite opens a journal that no daemon holds.
func openToWrite(path string, o journal.Options) (*journal.Journal, error) {
	if err := notAsRoot(filepath.Dir(path)); err != nil {
		return nil, err
	}
	return journal.Open(path, o)
}

// notAsRoot refuses to write a journal as root into a folder that is another user's: the service could not use what root made there.
func notAsRoot(state string) error {
	fi, err := os.Stat(state)
	if err != nil || os.Geteuid() != 0 {
		return nil // a folder that is not there yet becomes root's own
	}
	s, ok := fi.Sys().(*syscall.Stat_t)
	if !ok || s.Uid == 0 {
		return nil
	}
	name := "#" + strconv.FormatUint(uint64(s.Uid), 10) // as sudo has it
	if u, err := user.LookupId(name[1:]); err == nil {
		name = u.Username
	}
	return misuse{fmt.Errorf("%s belongs to %s, and what root writes there the service cannot use: start the service, or write  sudo -u %s lathwatch  and the rest", state, name, name)}
}

// sayWho says who may, when somebody may not touch what an installed service keeps.
func sayWho(w io.Writer, err error) {
	if errors.Is(err, fs.ErrPermission) && strings.Contains(err.Error(), installedState) {
		fmt.Fprintln(w, "What the service keeps is for the user and the group lathwatch: join it once (sudo adduser \"$USER\" lathwatch, then sign in anew), or write  sudo -u lathwatch lathwatch ...")
	}
}

// noDaemon says that none answers, and where an installed one says why.
func noDaemon(state string) string {
	if state == installedState {
		return "no daemon answers in " + state + ": systemctl status lathwatch says why, sudo systemctl start lathwatch starts it"
	}
	return "no daemon answers in " + state
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
