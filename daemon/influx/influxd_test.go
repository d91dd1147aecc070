package influx

import (
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lathwatch/daemon/journal"
	"lathwatch/sensors/units"
)

// A real is an influxd 1.8 of the test's own, stopped and started at will.
type real struct {
	t      *testing.T
	folder string
	addr   string
	cmd    *exec.Cmd
}

func realServer(t *testing.T) *real {
	t.Helper()
	path, err := exec.LookPath("influxd")
	if err != nil {
		if os.Getenv("LATHWATCH_REQUIRE") == "1" {
			t.Fatal("influxd 1.8 is not in PATH")
		}
		t.Skip("influxd 1.8 is not in PATH")
	}
	if out, _ := exec.Command(path, "version").CombinedOutput(); !strings.Contains(string(out), "1.8") && !strings.Contains(string(out), "unknown") {
		t.Skipf("it is not influxd 1.8: %s", out)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	r := &real{t: t, folder: t.TempDir(), addr: l.Addr().String()}
	_ = l.Close()
	conf := fmt.Sprintf("reporting-disabled = true\nbind-address = \"127.0.0.1:0\"\n[meta]\ndir = %q\n[data]\ndir = %q\nwal-dir = %q\n"+
		"[http]\nbind-address = %q\nlog-enabled = false\n[logging]\nlevel = \"error\"\n",
		filepath.Join(r.folder, "meta"), filepath.Join(r.folder, "data"), filepath.Join(r.folder, "wal"), r.addr)
	if err := os.WriteFile(filepath.Join(r.folder, "conf"), []byte(conf), 0o600); err != nil {
		t.Fatal(err)
	}
	r.start(path)
	t.Cleanup(func() {
		r.kill()
		if said, _ := os.ReadFile(filepath.Join(r.folder, "log")); t.Failed() {
			t.Logf("the server's log:\n%s", said)
		}
	})
	r.query("create database garden")
	return r
}

func (r *real) start(path string) {
	r.cmd = exec.Command(path, "-config", filepath.Join(r.folder, "conf"))
	log, err := os.OpenFile(filepath.Join(r.folder, "log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		r.t.Fatal(err)
	}
	defer log.Close()
	r.cmd.Stdout, r.cmd.Stderr = log, log
	if err := r.cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	for range 300 {
		if resp, err := http.Get("http://" + r.addr + "/ping"); err == nil {
			_ = resp.Body.Close()
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	r.t.Fatal("influxd does not answer")
}

func (r *real) kill() {
	_ = r.cmd.Process.Kill()
	_ = r.cmd.Wait()
}

// query gives the first series' first row.
func (r *real) query(q string) []any {
	r.t.Helper()
	resp, err := http.PostForm("http://"+r.addr+"/query", url.Values{"db": {"garden"}, "q": {q}})
	if err != nil {
		r.t.Fatal(err)
	}
	defer resp.Body.Close()
	b, _ := io.ReadAll(resp.Body)
	var out struct {
		Results []struct {
			Series []struct{ Values [][]any }
			Error  string
		}
	}
	if err := json.Unmarshal(b, &out); err != nil || len(out.Results) == 0 || out.Results[0].Error != "" {
		r.t.Fatalf("%s: %s %v", q, b, err)
	}
	if len(out.Results[0].Series) == 0 {
		return nil
	}
	return out.Results[0].Series[0].Values[0]
}

func (r *real) settings() Settings {
	return Settings{URL: "http://" + r.addr, Bucket: "garden/autogen", Node: "lane-end", Every: units.Span(time.Second)}
}

func TestARealServersRefusalsAreSetAside(t *testing.T) {
	r := realServer(t)
	j := filled(t, 1000) // 5,000 readings and 1,000 faults
	// Somebody else wrote text into the same field and shard: this one reading of ours can never be stored.
	clash := fmt.Sprintf("humidity,node=lane-end,probe=h value=\"wet\" %d", round(500).At.UnixNano())
	resp, err := http.Post("http://"+r.addr+"/write?db=garden", "text/plain", strings.NewReader(clash))
	if err != nil || resp.StatusCode != http.StatusNoContent {
		t.Fatal(resp, err)
	}
	_ = resp.Body.Close()
	late := []journal.Kept{{Round: round(500)}}
	late[0].Round.At = late[0].Round.At.Add(time.Minute)
	late[0].Round.Readings = late[0].Round.Readings[:1]
	late[0].Round.Readings[0].Probe, late[0].Round.Readings[0].Step = "h", units.Whole(units.Humidity)
	late[0].Round.Faults = nil
	if err := j.KeepAll(bg, late); err != nil {
		t.Fatal(err)
	}
	f := New(r.settings(), j, nil)
	if err := f.round(bg); err != nil {
		t.Fatal(err)
	}
	if row := r.query(`select count(value) from temperature`); row == nil || row[1].(float64) != 5000 {
		t.Errorf("the server has %v of 5,000", row)
	}
	n, line, _, err := j.Aside(bg, f.mark)
	if err != nil || n < 1 || !strings.HasPrefix(line, "humidity,node=lane-end,probe=h value=50 ") {
		t.Errorf("set aside: %d, %q, %v", n, line, err)
	}
	set := r.settings()
	set.Bucket = "nowhere/autogen"
	if err := New(set, j, nil).round(bg); err == nil {
		t.Error("a bucket that is not there was taken for success")
	}
}
