package push

import (
	"net"
	"strings"

	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

// WantsBroker reports whether the daemon should run the broker inside: it is not switched off and no outside one is configured.
func WantsBroker(g *garden.Garden) bool {
	return !g.Services.Broker.Off && !outside(g)
}

// Plan lists the ways out to open: the garden's own tables, and mqtt to the broker inside when the file has no [push.mqtt].
func Plan(g *garden.Garden) []table.Raw {
	plan := append([]table.Raw(nil), g.Push...)
	for _, p := range plan {
		if p.Name == "mqtt" {
			return plan
		}
	}
	if WantsBroker(g) {
		plan = append(plan, table.Raw{Name: "mqtt", Path: "push mqtt"})
	}
	return plan
}

// outside reports whether an outside broker is configured.
func outside(g *garden.Garden) bool {
	for _, p := range g.Push {
		set := mqttDefaults()
		if p.Name == "mqtt" && table.Decode(p, &set) == nil && set.Broker != "" {
			return true
		}
	}
	return false
}

// Reach says in one sentence that messages reach nobody yet, while no way out leads beyond this board: no outside broker, no
// mail, no post, and the broker inside (if any) listening to this board alone. It is "" once one does.
func Reach(g *garden.Garden) string {
	for _, p := range g.Push {
		if p.Name != "mqtt" {
			return ""
		}
	}
	if outside(g) {
		return ""
	}
	b := g.Services.Broker
	if WantsBroker(g) && b.Listen != "" && !Loopback(b.Listen) && b.PasswordFile != "" {
		return ""
	}
	if b.Off {
		return "Messages reach nobody yet: no way out is set up; add a [push.mqtt], [push.mail] or [push.post] block to garden.toml."
	}
	return "Messages reach nobody beyond this board yet: add a [push.mqtt], [push.mail] or [push.post] block to garden.toml, or let the broker inside listen on the LAN with a password."
}

// Loopback reports whether an address listens on this board alone. A name other than localhost, an empty host and a host that
// cannot be read count as reaching further.
func Loopback(listen string) bool {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		host = listen
	}
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip := net.ParseIP(host)
	return ip != nil && ip.IsLoopback()
}
