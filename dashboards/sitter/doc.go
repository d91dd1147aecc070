// Package sitter shows the sitter's sheet: as one page to print, and at a secret address as a page on which each row is ticked.
package sitter
