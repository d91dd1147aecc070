// Package tape reads and writes recorded rounds as plain text: readings.csv (time,probe,value,unit) and notes.csv
// (time,subject,what,detail). Rows may stand in any order; a broken row is named with its line and the rest is used.
package tape
