package dashboards

import (
	"lathwatch/alerts"
	"lathwatch/sensors/garden"
)

// regimeWords says a water regime as a keeper would. An unknown name is shown as it is.
func regimeWords(name string) string {
	switch name {
	case "":
		return ""
	case "dry-winter":
		return "dry winter"
	case "wet-winter":
		return "wet winter"
	case "dry-summer":
		return "dry summer"
	case "bone-dry":
		return "bone-dry rest"
	}
	return name
}

func earlinessWords(e garden.Earliness) string {
	switch e {
	case garden.Early:
		return "early riser"
	case garden.Middle:
		return "middle riser"
	case garden.LateRiser:
		return "late riser"
	}
	return ""
}

func tenderWords(t garden.Tender) string {
	switch t {
	case garden.Hardy:
		return "hardy"
	case garden.Tenderish:
		return "tender roots"
	case garden.NeverFreeze:
		return "must not freeze"
	}
	return ""
}

func coldWords(c alerts.Cold) string {
	switch c {
	case alerts.NotYet:
		return "not yet"
	case alerts.Enough:
		return "enough for most"
	case alerts.Plenty:
		return "plenty"
	}
	return "not begun"
}
