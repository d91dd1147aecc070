package push

import "net/http"

// SetTransport lets a test answer a post way's requests itself.
func SetTransport(r Runner, rt http.RoundTripper) { r.(*postWay).client.Transport = rt }
