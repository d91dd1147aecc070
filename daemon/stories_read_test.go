package daemon

import (
	"slices"
	"strings"

	"golang.org/x/net/html"
)

// A sheetRead is a page as a person reads it: its visible text, a line for each heading, paragraph, list item, fact and table row.
type sheetRead struct {
	l     *lived
	path  string
	lines []string
}

// read asks for a page and reads it.
func (l *lived) read(path string) sheetRead {
	l.t.Helper()
	w := l.get(path)
	if w.Code != 200 {
		l.t.Fatalf("%s: %d %.300s", path, w.Code, w.Body)
	}
	root, err := html.Parse(w.Body)
	if err != nil {
		l.t.Fatal(err)
	}
	s := sheetRead{l: l, path: path}
	var line []string
	end := func() {
		if len(line) > 0 {
			s.lines = append(s.lines, strings.Join(line, " "))
		}
		line = nil
	}
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		switch {
		case n.Type == html.TextNode:
			line = append(line, strings.Fields(n.Data)...)
			return
		case n.Type == html.ElementNode && slices.Contains([]string{"head", "style", "script", "select", "nav"}, n.Data):
			return
		}
		block := n.Type == html.ElementNode && slices.Contains([]string{"h1", "h2", "h3", "h4", "p", "li", "tr", "dt", "section", "form", "table", "ul", "div", "header", "main", "footer", "details", "summary", "button"}, n.Data)
		if block {
			end()
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
			if c.Type == html.ElementNode && (c.Data == "td" || c.Data == "th") && c.NextSibling != nil {
				line = append(line, "|")
			}
		}
		if block && n.Data != "dt" { // a fact's value stands beside its name
			end()
		}
	}
	walk(root)
	end()
	return s
}

// says wants a line that holds all the words, in this order.
func (s sheetRead) says(words ...string) {
	s.l.t.Helper()
	if !slices.ContainsFunc(s.lines, func(line string) bool { return inOrder(line, words) }) {
		s.l.t.Errorf("%s on %s: no line with %q in\n  %s", s.path, s.l.now.In(s.l.story.garden.Site.Zone).Format("2 Jan 15:04"), words, strings.Join(s.lines, "\n  "))
	}
}

// silent wants no line that holds all the words.
func (s sheetRead) silent(words ...string) {
	s.l.t.Helper()
	for _, line := range s.lines {
		if inOrder(line, words) {
			s.l.t.Errorf("%s on %s says %q", s.path, s.l.now.In(s.l.story.garden.Site.Zone).Format("2 Jan 15:04"), line)
		}
	}
}

func inOrder(line string, words []string) bool {
	for _, w := range words {
		i := strings.Index(line, w)
		if i < 0 {
			return false
		}
		line = line[i+len(w):]
	}
	return true
}
