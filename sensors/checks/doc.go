// Package checks holds results against figures from outside the project: published tables, worked examples and reference
// values kept in testdata/checks.json. Only tests import it. What is expected, and how near a result must come, is read from
// that file and never from a test.
package checks
