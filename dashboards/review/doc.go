// Package review tells what a winter was and what came of what was said: curves with their spells, the cold account by date, frost
// nights, water against need, each message against what followed, each break forecast against what came up, one winter beside
// every other kept. It is fed by the same walk the daemon lives in and draws one page that stands alone, for screen and paper, a
// picture and a table of figures.
package review
