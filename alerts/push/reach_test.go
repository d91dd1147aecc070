package push_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lathwatch/alerts/push"
	"lathwatch/sensors/garden"
	"lathwatch/sensors/table"
)

func TestReachSaysWhenMessagesReachNobody(t *testing.T) {
	mqtt := func(body string) table.Raw { return table.Raw{Name: "mqtt", Body: body} }
	for _, c := range []struct {
		name    string
		g       garden.Garden
		reaches bool
		inside  bool // the daemon runs the broker inside
		ways    int
	}{
		{"nothing set up", garden.Garden{}, false, true, 1},
		{"the broker inside, settings only", garden.Garden{Push: []table.Raw{mqtt("readings = false")}}, false, true, 1},
		{"the broker inside, off", garden.Garden{Services: garden.Services{Broker: garden.Broker{Off: true}}}, false, false, 0},
		{"the broker inside on the LAN with a password", garden.Garden{Services: garden.Services{Broker: garden.Broker{Listen: "192.0.2.5:1883", PasswordFile: "p"}}}, true, true, 1},
		{"the broker inside on loopback with a password", garden.Garden{Services: garden.Services{Broker: garden.Broker{Listen: "127.0.0.1:1883", PasswordFile: "p"}}}, false, true, 1},
		{"an outside broker", garden.Garden{Push: []table.Raw{mqtt(`broker = "mqtt://192.0.2.10"`)}}, true, false, 1},
		{"mail", garden.Garden{Push: []table.Raw{{Name: "mail"}}}, true, true, 2},
		{"post, and no broker at all", garden.Garden{Push: []table.Raw{{Name: "post"}}, Services: garden.Services{Broker: garden.Broker{Off: true}}}, true, false, 1},
	} {
		said := push.Reach(&c.g)
		if (said == "") != c.reaches || said != "" && (!strings.HasPrefix(said, "Messages reach nobody") || !strings.HasSuffix(said, ".")) {
			t.Errorf("%s: %q", c.name, said)
		}
		if push.WantsBroker(&c.g) != c.inside {
			t.Errorf("%s: the broker inside runs: %t", c.name, !c.inside)
		}
		if n := len(push.Plan(&c.g)); n != c.ways {
			t.Errorf("%s: %d ways out", c.name, n)
		}
	}
}

func TestASecretThatOthersCanReadIsRefused(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "secret")
	if err := os.WriteFile(path, []byte("leaf mould\r\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, mode := range []os.FileMode{0o600, 0o400} {
		os.Chmod(path, mode)
		if s, err := push.Secret(path); s != "leaf mould" || err != nil {
			t.Errorf("mode %04o: %q, %v", mode, s, err)
		}
	}
	for _, mode := range []os.FileMode{0o640, 0o604, 0o620, 0o644, 0o601} {
		os.Chmod(path, mode)
		if s, err := push.Secret(path); err == nil || !strings.Contains(err.Error(), "chmod 600") || s != "" {
			t.Errorf("mode %04o: %q, %v", mode, s, err)
		}
	}
	link := filepath.Join(dir, "link")
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	if _, err := push.Secret(link); err == nil {
		t.Error("a link to a file that others can read was taken")
	}
	if _, err := push.Secret(dir); err == nil {
		t.Error("a folder was taken for a secret")
	}
	big := filepath.Join(dir, "big")
	os.WriteFile(big, make([]byte, 5000), 0o600)
	if _, err := push.Secret(big); err == nil {
		t.Error("5000 bytes were taken for a password")
	}
	if s, err := push.Secret(""); s != "" || err != nil {
		t.Errorf("no file: %q, %v", s, err)
	}
}
