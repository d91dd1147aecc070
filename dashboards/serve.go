package dashboards

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"
)

// Serve answers on a listener until ctx ends, then lets running requests finish for a few seconds. Live feeds end at once. With a
// certificate and key file the listener speaks TLS. It returns nil after an ordinary end.
func (p *Pages) Serve(ctx context.Context, ln net.Listener) error {
	srv := &http.Server{Handler: p, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 20 * time.Second, WriteTimeout: 60 * time.Second,
		IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10, ErrorLog: slog.NewLogLogger(p.cfg.Log.Handler(), slog.LevelDebug)}
	ln = newCrowd(ln, maxConns, maxConnsOne)
	done := make(chan error, 1)
	go func() { // the web server; ends with Shutdown or Close below
		if c, k := p.cfg.Page.CertFile, p.cfg.Page.KeyFile; c != "" || k != "" {
			srv.TLSConfig = &tls.Config{MinVersion: tls.VersionTLS12}
			done <- srv.ServeTLS(ln, c, k)
			return
		}
		done <- srv.Serve(ln)
	}()
	select {
	case err := <-done:
		return fmt.Errorf("serving the pages: %w", err)
	case <-ctx.Done():
	}
	p.stop()
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
	defer cancel()
	if err := srv.Shutdown(last); err != nil {
		srv.Close()
	}
	if err := <-done; !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serving the pages: %w", err)
	}
	return nil
}
