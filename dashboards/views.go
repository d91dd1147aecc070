package dashboards

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"strings"

	"lathwatch/alerts"
	"lathwatch/dashboards/curve"
)

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed static/look.css static/page.js static/pot.svg
var staticFiles embed.FS

// viewNames are the pages that have a template of their own, laid into templates/frame.html.
var viewNames = []string{"today", "fail", "signin", "winter", "facts", "said", "part"}

// noteAlert is an alert with or without its buttons.
type noteAlert struct {
	A       alertView
	CanNote bool
}

func loadViews(assets map[string]*asset) (map[string]*template.Template, error) {
	base, err := template.New("frame.html").Funcs(template.FuncMap{"asset": func(name string) (string, error) {
		if a := assets[name]; a != nil {
			return a.address, nil
		}
		return "", fmt.Errorf("no asset %q", name)
	}, "withNote": func(a alertView, can bool) noteAlert { return noteAlert{a, can} }}).ParseFS(templateFiles, "templates/frame.html", "templates/parts.html", "templates/sheet.html")
	if err != nil {
		return nil, err
	}
	views := map[string]*template.Template{}
	for _, name := range viewNames {
		t, err := base.Clone()
		if err != nil {
			return nil, err
		}
		if views[name], err = t.ParseFS(templateFiles, "templates/"+name+".html"); err != nil {
			return nil, err
		}
	}
	views["sheet"] = base.Lookup("sheet")
	return views, nil
}

// show executes a page whole before a byte is sent, so that a fault in a template is an error page and not half a page.
func (p *Pages) show(w http.ResponseWriter, view string, page any) error {
	var b bytes.Buffer
	if err := p.views[view].Execute(&b, page); err != nil {
		return fmt.Errorf("drawing the page %s: %w", view, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, err := w.Write(b.Bytes())
	return err
}

// frame fills in what every page has round it.
func (p *Pages) frame(r *http.Request, st *alerts.Standing, here string) frame {
	f := frame{Here: here, Version: p.cfg.Version, Site: "Lathwatch", SignIn: p.door.phrase != nil, Zone: "UTC"}
	f.SignedIn = p.door.signedIn(r)
	f.CanNote = p.cfg.Notes != nil && f.SignedIn
	for _, m := range p.cfg.Mounts {
		if _, path, ok := strings.Cut(m.Pattern, " "); ok && m.Menu != "" {
			f.Menu = append(f.Menu, menuLink{link{Text: m.Menu, At: path}, hereOf(m.Pattern)})
		}
	}
	if st == nil || st.Garden == nil || !f.SignedIn && !p.door.open {
		return f
	}
	site := st.Garden.Site
	if f.Site = site.Name; f.Site == "" {
		f.Site = site.ID
	}
	if site.Zone != nil {
		f.Zone = site.Zone.String()
	}
	if !st.At.IsZero() {
		f.At, f.AtISO = speak(st, p.cfg.Now()).when(st.At), iso(st.At)
	}
	return f
}

// asset is a static file with an address that changes with its content, so that it may be kept for ever.
type asset struct {
	address, kind string
	data          []byte
}

var assetKinds = map[string]string{".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}

func loadAssets() (map[string]*asset, error) {
	files, err := staticFiles.ReadDir("static")
	if err != nil {
		return nil, err
	}
	all := map[string]*asset{}
	for _, f := range files {
		data, err := staticFiles.ReadFile("static/" + f.Name())
		if err != nil {
			return nil, err
		}
		if f.Name() == "look.css" { // the looks of curves come from their own table
			data = append(data, curve.PageStyle()...)
		}
		sum := sha256.Sum256(data)
		all[f.Name()] = &asset{"/static/" + hex.EncodeToString(sum[:6]) + "/" + f.Name(), assetKinds[path.Ext(f.Name())], data}
	}
	return all, nil
}

func (p *Pages) static(w http.ResponseWriter, r *http.Request) error {
	a := p.assets[path.Base(r.URL.Path)]
	if a == nil || strings.Count(r.URL.Path, "/") != 3 {
		return refuse(http.StatusNotFound, "There is no such file.")
	}
	h := w.Header()
	h.Set("Content-Type", a.kind)
	if h.Set("Cache-Control", "no-cache"); r.URL.Path == a.address {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	_, err := w.Write(a.data)
	return err
}
