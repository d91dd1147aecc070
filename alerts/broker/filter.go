package broker

import "strings"

// validFilter reports whether a topic filter is one the standard allows (MQTT 3.1.1 section 4.7.1): at least one character, a
// plus alone in its level, a hash alone in the last. The library takes "sport/tennis#" and "sport+".
func validFilter(filter string) bool {
	if filter == "" || len(filter) > 65535 || strings.Contains(filter, "\x00") {
		return false
	}
	levels := strings.Split(filter, "/")
	for i, l := range levels {
		if strings.Contains(l, "#") && (l != "#" || i < len(levels)-1) || strings.Contains(l, "+") && l != "+" {
			return false
		}
	}
	return true
}
