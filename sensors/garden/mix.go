package garden

import (
	"regexp"
	"strconv"
	"strings"
)

// organicParts are words for organic parts of a mix.
var organicParts = []string{"bark", "peat", "coir", "compost", "leaf mould", "leaf-mould", "leafmould", "leaf mold", "humus", "manure", "wood fibre", "sawdust", "sphagnum"}

var (
	mixSplit = regexp.MustCompile(`[,;+/&]|\band\b|\bwith\b|\bto\b|\bin\b`)
	mixShare = regexp.MustCompile(`([0-9]+(?:\.[0-9]+)?)\s*(%|per cent|percent|parts?\b)`)
)

// OrganicShare adds up the organic per cents a mix's words name ("80 % pumice, 20 % bark", "pumice, bark 20 %", "4 parts pumice to 1 part
// bark"); an organic part alone is all of it ("peat"). ok is false when no organic part is named or one stands among others without
// its share.
func OrganicShare(mix string) (share float64, ok bool) {
	mix = strings.ToLower(mix)
	var parts, organicOf float64
	named, open, pieces := false, false, 0
	for _, piece := range mixSplit.Split(mix, -1) {
		if strings.TrimSpace(piece) == "" {
			continue
		}
		pieces++
		organic := isOrganic(piece)
		named = named || organic
		m := mixShare.FindStringSubmatch(piece)
		if m == nil {
			open = open || organic
			continue
		}
		v, _ := strconv.ParseFloat(m[1], 64)
		switch isPart := strings.HasPrefix(m[2], "part"); {
		case isPart:
			parts += v
			if organic {
				organicOf += v
			}
		case organic:
			share += v
		}
	}
	if parts > 0 {
		share += 100 * organicOf / parts
	}
	switch {
	case !named:
		return 0, false
	case open && pieces == 1:
		return 100, true
	case open && share <= OrganicMost:
		return share, false
	}
	return share, true
}

func isOrganic(piece string) bool {
	for _, word := range organicParts {
		if i := strings.Index(piece, word); i >= 0 && !strings.Contains(piece, "no "+word) && !strings.Contains(piece, "without "+word) {
			return true
		}
	}
	return false
}

// OrganicNamed reports whether a mix's words name an organic part at all.
func OrganicNamed(mix string) bool { return isOrganic(strings.ToLower(mix)) }

var (
	feedAmount   = regexp.MustCompile(`(?i)([0-9]+(?:\.[0-9]+)?)\s*(ml|l)\b(?:[^/]|$)`)
	feedStrength = regexp.MustCompile(`(?i)([0-9]+(?:\.[0-9]+)?)\s*(?:mg/l|ppm)`)
	feedGrams    = regexp.MustCompile(`(?i)([0-9]+(?:\.[0-9]+)?)\s*g\b(?:[^/]|$)`)
)

// ReadFeed reads what a fed note says: "300 mL at 100 mg/L". What it does not say is 0, and whole is false.
func ReadFeed(detail string) (mL, mgPerL float64, whole bool) {
	if m := feedStrength.FindStringSubmatch(detail); m != nil {
		mgPerL, _ = strconv.ParseFloat(m[1], 64)
	}
	if m := feedAmount.FindStringSubmatch(feedStrength.ReplaceAllString(detail, "")); m != nil {
		mL, _ = strconv.ParseFloat(m[1], 64)
		if strings.EqualFold(m[2], "l") {
			mL *= 1000
		}
	}
	return mL, mgPerL, mL > 0 && mgPerL > 0
}

// ReadDressing reads the grams a dressed note says: "6 g"; 0 when it says none.
func ReadDressing(detail string) (grams float64) {
	if m := feedGrams.FindStringSubmatch(detail); m != nil {
		grams, _ = strconv.ParseFloat(m[1], 64)
	}
	return grams
}
