package ledger

import (
	"fmt"
	"strings"

	"lathwatch/sensors"
	"lathwatch/sensors/garden"
)

// organicFeeds are words for feeds of plant or animal stuff, in the order they are looked for.
var organicFeeds = []string{"manure", "dung", "compost", "guano", "bone meal", "bonemeal", "blood meal", "horn", "hoof", "fish meal", "fish emulsion", "seaweed meal", "worm cast", "organic", "urea"}

// fedWords make a remark one about feeding.
var fedWords = []string{"fed ", "feed", "gave", "given", "dressed", "dressing", "mulch", "watered with", "manured"}

// Objection is what to say to a note that goes against the roots of these plants: an organic feed or urea, or a mix that is more than
// 5 % organic. Empty: nothing. The note is kept all the same; what was done was done. Every door a note comes in by says the same.
func Objection(n sensors.Note) string {
	detail := strings.ToLower(n.Detail)
	switch n.What {
	case sensors.Fed, sensors.Dressed:
		return feedObjection(detail)
	case sensors.Remark:
		for _, w := range fedWords {
			if strings.Contains(detail+" ", w) {
				return feedObjection(detail)
			}
		}
	case sensors.Repotted:
		return mixObjection(detail)
	}
	return ""
}

func feedObjection(detail string) string {
	for _, word := range organicFeeds {
		if strings.Contains(detail, word) && !strings.Contains(detail, "no "+word) && !strings.Contains(detail, "not "+word) && !strings.Contains(detail, "without "+word) &&
			!strings.Contains(detail, "inorganic") {
			return fmt.Sprintf("Noted, but not advised: %s. These roots live in mineral mixes with few of the fungi and bacteria that break such feed down; it turns sour in a cool pot and growers lose plants to it. A weak mineral feed without urea is what they use.", word)
		}
	}
	return ""
}

func mixObjection(detail string) string {
	switch share, ok := garden.OrganicShare(detail); {
	case ok && share > garden.OrganicMost:
		return fmt.Sprintf("Noted, but not advised: a mix %.3g %% organic. Over %d %% round the roots holds water through a cold winter and rots; growers keep to mineral mixes.", share, garden.OrganicMost)
	case !ok && garden.OrganicNamed(detail):
		return fmt.Sprintf("Noted. How much of the mix is organic? Over %d %% round the roots holds water through a cold winter and rots: write the shares, like \"95 %% pumice, 5 %% bark\".", garden.OrganicMost)
	}
	return ""
}

// MixRemarks names the pots of a garden file whose mix is too organic, by its own words.
func MixRemarks(g *garden.Garden) []string {
	var out []string
	for i := range g.Pots {
		if say := MixRemark(&g.Pots[i]); say != "" {
			out = append(out, g.Pots[i].ID+" stands in "+say)
		}
	}
	return out
}

// MixRemark is what there is to say to one pot's mix: "a mix 20 % organic ..."; empty: nothing.
func MixRemark(p *garden.Pot) string {
	switch share, ok := garden.OrganicShare(p.Mix); {
	case ok && share > garden.OrganicMost:
		return fmt.Sprintf("a mix %.3g %% organic (%q); over %d %% is not advised for these roots: it holds water through a cold winter and rots.", share, p.Mix, garden.OrganicMost)
	case !ok && garden.OrganicNamed(p.Mix):
		return fmt.Sprintf("a mix with organic parts (%q): write their share, over %d %% is not advised for these roots.", p.Mix, garden.OrganicMost)
	}
	return ""
}
