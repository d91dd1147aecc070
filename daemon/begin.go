package daemon

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"lathwatch/sensors/garden"
)

// Beginning is what a starter garden file is made from.
type Beginning struct {
	ID, Name            string
	Latitude, Longitude float64
	Zone                string
	Dry, Wet            int // pots wintered dry under a roof, and wet in the open
}

// potsMost bounds a starter file: more are better added by hand, as they stand.
const potsMost = 200

// Check says what cannot be written.
func (b Beginning) Check() error {
	var all []error
	if !garden.SafeID(b.ID) {
		all = append(all, fmt.Errorf("id %q: write letters, digits and hyphens, at most 40", b.ID))
	}
	if !(b.Latitude >= -90 && b.Latitude <= 90) {
		all = append(all, fmt.Errorf("latitude %g: write degrees from -90 to 90, south negative", b.Latitude))
	}
	if !(b.Longitude >= -180 && b.Longitude <= 180) {
		all = append(all, fmt.Errorf("longitude %g: write degrees from -180 to 180, west negative", b.Longitude))
	}
	if _, err := time.LoadLocation(b.Zone); err != nil || b.Zone == "" || b.Zone == "Local" {
		all = append(all, fmt.Errorf("zone %q: write a name like Europe/Dublin", b.Zone))
	}
	if b.Dry < 0 || b.Wet < 0 || b.Dry+b.Wet > potsMost {
		all = append(all, fmt.Errorf("%d and %d pots: write at most %d in all", b.Dry, b.Wet, potsMost))
	}
	return errors.Join(all...)
}

// Text is the commented starter file. It passes ParseGarden.
func (b Beginning) Text() (string, error) {
	if err := b.Check(); err != nil {
		return "", err
	}
	name := b.Name
	if name == "" {
		name = b.ID
	}
	var s strings.Builder
	fmt.Fprintf(&s, starterHead, b.ID, strconv.Quote(name), b.Latitude, b.Longitude, b.Zone, wall(b.Latitude))
	for i := range b.Dry {
		fmt.Fprintf(&s, starterPot, fmt.Sprintf("D%d", i+1), "dry", "table")
	}
	for i := range b.Wet {
		fmt.Fprintf(&s, starterPot, fmt.Sprintf("W%d", i+1), "wet", "wall")
	}
	s.WriteString(starterFoot)
	return s.String(), nil
}

// wall is where a wall must face for shade.
func wall(latitude float64) string {
	if latitude < 0 {
		return "south"
	}
	return "north"
}

const starterHead = `# garden.toml: what exists in the garden. What happens there is noted with "lathwatch note" or on the page.
# "lathwatch check --explain" says what is configured, what is a guess and what to do next.
# A number that has a unit is written with it, in quotes: "3 L", "-2.5 °C", "5 min".

[site]
id = "%s"      # stays for ever: it names topics and files
name = %s
latitude = %g
longitude = %g
zone = "%s"

# Somewhere pots stand. Give each place a shielded thermometer at plant height.
[[place]]
id = "table"
name = "under the table"
roof = true                # keeps rain and the night sky off

[[place]]
id = "wall"
name = "at the wall"
shaded = true              # in the shade of the wall, which faces %s here

# Every number of moisture, cold and dates the program begins with is a guess; your notes replace them year by year.

# One clone, whatever pot it stands in. Rename these two and add one for each of yours.
[[plant]]
id = "dry"
name = "a kind wintered dry"
regime = "dry-winter"      # dry-winter, wet-winter, dry-summer or bone-dry
#earliness = "middle"      # early, middle or late: when it rises
#tender = "tender"         # hardy, tender or never-freeze: how cold its roots may get
#hunger = "usual"          # modest, usual or hungry

[[plant]]
id = "wet"
name = "a kind wintered wet"
regime = "wet-winter"
`

const starterPot = `
[[pot]]
id = "%s"
plant = "%s"
place = "%s"
volume = "3 L"
material = "plastic"       # or clay: it dries three times as fast
#mix = "pumice 3-8 mm"     # free text
#relatives = []            # pots without a probe that dry like this one
`

const starterFoot = `
# Probes: wire them, run "lathwatch probes" and paste the blocks it prints here. One looks like this:
#
#[[probe]]
#id = "D1-t"
#measures = "pot-temperature"
#pot = "D1"
#[probe.w1]
#id = "28-0000075c1d2e"

# Twelve monthly means of the air, January first, and how far one year lies from another, copied from published normals:
#[normals]
#mean = ["4.9 °C", "5.1 °C", "6.5 °C", "8.3 °C", "11.0 °C", "13.6 °C", "15.3 °C", "15.1 °C", "13.2 °C", "10.3 °C", "7.2 °C", "5.4 °C"]
#spread = ["1.5 °C", "1.5 °C", "1.3 °C", "1.1 °C", "1.0 °C", "0.9 °C", "1.0 °C", "0.9 °C", "1.0 °C", "1.1 °C", "1.2 °C", "1.5 °C"]

# A way out for messages beyond this board is [push.mqtt], [push.mail] or [push.post]; without one, warnings reach nobody.

[page]
listen = "127.0.0.1:8642"  # another address only together with a passphrase-file

[backup]
#folder = "/media/stick"   # beside the journal when missing: then one broken card takes both
keep = 3
`
