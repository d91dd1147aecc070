package dashboards

import (
	"compress/gzip"
	"io"
	"net/http"
	"strings"
	"sync"
)

var packers = sync.Pool{New: func() any { w, _ := gzip.NewWriterLevel(io.Discard, 5); return w }}

// packed compresses answers for those who take it. The live feed goes past it: it must be flushed line by line.
func packed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Encoding")
		if r.URL.Path == "/live" || r.Method == http.MethodHead || !strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
			next.ServeHTTP(w, r)
			return
		}
		pw := &packedWriter{ResponseWriter: w}
		defer pw.close()
		next.ServeHTTP(pw, r)
	})
}

type packedWriter struct {
	http.ResponseWriter
	gz      *gzip.Writer
	decided bool
}

func (w *packedWriter) WriteHeader(status int) {
	if !w.decided {
		w.decided = true
		h := w.Header()
		if status != http.StatusNoContent && status != http.StatusNotModified && status < 300 || status >= 400 {
			if h.Get("Content-Encoding") == "" {
				h.Set("Content-Encoding", "gzip")
				h.Del("Content-Length")
				w.gz = packers.Get().(*gzip.Writer)
				w.gz.Reset(w.ResponseWriter)
			}
		}
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *packedWriter) Write(b []byte) (int, error) {
	if !w.decided {
		if w.Header().Get("Content-Type") == "" {
			w.Header().Set("Content-Type", http.DetectContentType(b))
		}
		w.WriteHeader(http.StatusOK)
	}
	if w.gz != nil {
		return w.gz.Write(b)
	}
	return w.ResponseWriter.Write(b)
}

// Unwrap lets http.ResponseController reach the connection.
func (w *packedWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func (w *packedWriter) close() {
	if w.gz != nil {
		w.gz.Close()
		w.gz.Reset(io.Discard)
		packers.Put(w.gz)
	}
}
