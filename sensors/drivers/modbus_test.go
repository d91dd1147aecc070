package drivers

import (
	"errors"
	"io"
	"log"
	"math"
	"net"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/simonvetter/modbus"

	"lathwatch/sensors"
)

func modbusGarden(at, more string) string {
	block := func(id, measures, rest string) string {
		return "[[probe]]\nid = \"" + id + "\"\nmeasures = \"" + measures + "\"\n[probe.modbus]\nat = \"" + at + "\"\nfunction = 4\n" + more + rest
	}
	return block("D7-m", "pot-moisture", "register = 0\ncount = \"1 count\"\n") +
		block("D7-t", "pot-temperature", "register = 1\ntype = \"s16\"\ncount = \"0.1 °C\"\n")
}

// registerServer is the slave side of an outside library, so that both ends were not written by one hand.
type registerServer struct {
	modbus.RequestHandler
	words []uint16
}

func (s *registerServer) HandleInputRegisters(q *modbus.InputRegistersRequest) ([]uint16, error) {
	if int(q.Addr)+int(q.Quantity) > len(s.words) || q.UnitId != 1 {
		return nil, modbus.ErrIllegalDataAddress
	}
	return s.words[q.Addr : q.Addr+q.Quantity], nil
}

func freeAddress(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

func TestModbusTCPAgainstAnOutsideSlave(t *testing.T) {
	at := "tcp://" + freeAddress(t)
	slave := &registerServer{words: []uint16{215, 0xFFCE}}
	server, err := modbus.NewServer(&modbus.ServerConfiguration{URL: at, Logger: log.New(io.Discard, "", 0)}, slave)
	if err != nil {
		t.Fatal(err)
	}
	s := opened(t, Env{}, modbusGarden(at, "timeout = \"2 s\"\n"))
	defer s.Close()
	rs, fs := s.Poll(t.Context())
	if len(rs) != 0 || len(fs) != 2 || fs[0].Kind != sensors.Silent { // nobody listens yet
		t.Fatalf("%v, %v", rs, fs)
	}
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { server.Stop() })
	if diff := cmp.Diff("D7-m 215 counts\nD7-t -5 °C", saysOf(t, s)); diff != "" {
		t.Error(diff)
	}
	missing := opened(t, Env{}, strings.Replace(modbusGarden(at, ""), "register = 1\n", "register = 2\n", 1))
	defer missing.Close()
	if _, fs := missing.Poll(t.Context()); len(fs) != 2 || !strings.Contains(fs[0].Why, "no such register") {
		t.Errorf("a register that is not there: %v", fs)
	}
}

const onLine = "/dev/serial/by-id/usb-rs485"

func TestModbusRTUCarriedOverTCP(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	go func() {
		for round := 0; ; round++ {
			c, err := l.Accept()
			if err != nil {
				return
			}
			b := make([]byte, 8)
			if _, err := io.ReadFull(c, b); err == nil && round > 0 { // the first connection hangs up without an answer
				c.Write(replyFrom(b, map[uint16]uint16{0: 350, 1: 215}))
			}
			c.Close()
		}
	}()
	s := opened(t, Env{}, modbusGarden("rtuovertcp://"+l.Addr().String(), ""))
	defer s.Close()
	if _, fs := s.Poll(t.Context()); len(fs) != 2 || fs[0].Kind != sensors.Silent {
		t.Fatalf("a hang-up is %v", fs)
	}
	if diff := cmp.Diff("D7-m 350 counts\nD7-t 21.5 °C", saysOf(t, s)); diff != "" {
		t.Error(diff)
	}
}

func TestModbusWordsAndTypes(t *testing.T) {
	register := 0
	for _, c := range []struct {
		kind, order, bytes string
		sentinels          []int64
		want               int64
		fault              sensors.FaultKind
	}{
		{kind: "u16", bytes: "ffce", want: 65486},
		{kind: "s16", bytes: "ffce", want: -50},
		{kind: "u32", bytes: "00010002", want: 65538},
		{kind: "u32", order: "low-first", bytes: "00020001", want: 65538},
		{kind: "s32", bytes: "ffffffce", want: -50},
		{kind: "f32", bytes: "41ac0000", want: 215000}, // 21.5
		{kind: "f32", order: "low-first", bytes: "000041ac", want: 215000},
		{kind: "f32", bytes: "7fc00000", fault: sensors.Implausible},
		{kind: "f32", bytes: "7f800000", fault: sensors.Implausible},
		{kind: "f32", bytes: "ff800000", fault: sensors.Implausible},
		{kind: "s16", bytes: "7fff", sentinels: []int64{0x7FFF}, fault: sensors.Implausible},
		{kind: "u32", bytes: "0001", fault: sensors.Garbled},
	} {
		of := modbusTable{Register: &register, Type: c.kind, WordOrder: c.order}
		of.Sentinels = c.sentinels
		if err := of.Count.UnmarshalText([]byte("1 count")); err != nil {
			t.Fatal(err)
		}
		a := of.decode(unhex(t, c.bytes))
		switch f := faultOf("x", orNone(a.err)); {
		case c.fault != 0 && (a.err == nil || f.Kind != c.fault):
			t.Errorf("%s %s: %v, want %v", c.kind, c.bytes, a, c.fault)
		case c.fault == 0 && (a.err != nil || a.raw != c.want):
			t.Errorf("%s %s: %v, want %d", c.kind, c.bytes, a, c.want)
		}
	}
}

func orNone(err error) error {
	if err == nil {
		return errors.New("none")
	}
	return err
}

func TestModbusRegistersTooFarApartAreRefused(t *testing.T) {
	var wishes []Wish
	for _, p := range probesOf(t, strings.Replace(modbusGarden(onLine, ""), "register = 1\n", "register = 125\n", 1)) {
		w, err := ParseProbe(p)
		if err != nil {
			t.Fatal(err)
		}
		wishes = append(wishes, w)
	}
	if _, err := wishes[0].Open(Env{}, wishes); err == nil || !strings.Contains(err.Error(), "0 to 125") {
		t.Errorf("126 registers in one request: %v", err)
	}
}

func FuzzModbusReply(f *testing.F) {
	q := modbusAsk{unit: 1, function: 4, first: 0, count: 2}
	for _, s := range []string{"01040400d7ffce8bd8", "018402c2c1", "01040000000271cb", "0104", "", "0104fa", "02040400d7ffce"} {
		f.Add(unhex(f, s))
	}
	f.Fuzz(func(t *testing.T, got []byte) {
		if whole := rtuWhole(q.frame(), got); whole < 5 || whole > 260 {
			t.Errorf("a frame of %d bytes", whole)
		}
		data, err := rtuData(q, got)
		if err != nil {
			return
		}
		if len(data) != 4 || crcModbus(got[:7]) != uint16(got[7])|uint16(got[8])<<8 || got[0] != 1 || got[1] != 4 {
			t.Errorf("% x was taken for % x", got, data)
		}
		register := 0
		for _, kind := range []string{"u16", "s16", "u32", "s32", "f32"} {
			of := modbusTable{Register: &register, Type: kind}
			_ = of.Count.UnmarshalText([]byte("0.1 °C"))
			if a := of.decode(data); a.err == nil && math.Abs(float64(a.raw)) > 1e14 {
				t.Errorf("%s of % x is %d", kind, data, a.raw)
			}
		}
	})
}

// Many devices have one stop bit with no parity, where the protocol asks for two: it is stated, never left to a default.
func TestLinesAreSetAsConfigured(t *testing.T) {
	for _, c := range []struct {
		more string
		want SerialMode
	}{
		{"", SerialMode{Baud: 9600, DataBits: 8, Parity: 'N', StopBits: 1, Timeout: readSlice}},
		{"baud = 4800\nparity = \"even\"\nstop-bits = 2\n", SerialMode{Baud: 4800, DataBits: 8, Parity: 'E', StopBits: 2, Timeout: readSlice}},
	} {
		var got SerialMode
		env := Env{Serial: func(_ string, m SerialMode) (Line, error) { got = m; return nil, errors.New("enough") }}
		opened(t, env, modbusGarden(onLine, c.more)).Poll(t.Context())
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%q: -want +got\n%s", c.more, diff)
		}
	}
}
