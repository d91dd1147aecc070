package table

import "strings"

// Near finds the known word a writer most likely meant: at most two letters wrong, one for short words, none for words of one
// or two letters. Empty: none is near.
func Near(got string, known []string) string {
	best, word := 3, ""
	for _, k := range known {
		d := distance(strings.ToLower(got), strings.ToLower(k))
		if d < best && d <= (len(k)+1)/3 && len(k) > 2 {
			best, word = d, k
		}
	}
	return word
}

// Advice is the tail of an "unknown word" message: the near miss when there is one, else everything that is known.
func Advice(got string, known []string) string {
	if n := Near(got, known); n != "" {
		return "did you mean " + n + "?"
	}
	switch len(known) {
	case 0:
		return "nothing may be written here"
	case 1:
		return "write " + known[0]
	}
	return "write one of " + strings.Join(known, ", ")
}

// distance counts the letters to change, add, drop or swap with their neighbour between two words.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	rows := make([][]int, len(x)+1)
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
		rows[i][0] = i
	}
	for j := range y {
		rows[0][j+1] = j + 1
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			rows[i][j] = min(rows[i-1][j]+1, rows[i][j-1]+1, rows[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				rows[i][j] = min(rows[i][j], rows[i-2][j-2]+1)
			}
		}
	}
	return rows[len(x)][len(y)]
}
