package daemon

import (
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// What the store's engine answers when the kernel refuses a write.
const (
	cardWell     = 0
	cardFull     = 13         // SQLITE_FULL: no space left
	cardReadOnly = 10 | 3<<8  // SQLITE_IOERR_WRITE: the file system went read-only under us
	cardWords    = "hazelend" // in the path of files the card answers for
)

// card is the engine's own file layer, counting what is handed to write calls and refusing them on request. No root is needed.
var card struct {
	once          sync.Once
	refuse        atomic.Int32
	bytes, copied atomic.Int64 // to the journal; to backups
	syncs         atomic.Int64
	open          uintptr // the layer's own functions
	write, sync   uintptr
	methods       map[uintptr]*[2]uintptr // method tables with ours put in: for the journal, for backups
}

const ( // offsets in sqlite3_vfs and sqlite3_io_methods on 64 bits
	vfsOpen      = 40
	methodsWrite = 24
	methodsSync  = 40
	methodsSize  = 152
)

func cPointer[F any](f F) uintptr { return *(*uintptr)(unsafe.Pointer(&struct{ f F }{f})) }

func cFunction[F any](p uintptr) F { return *(*F)(unsafe.Pointer(&struct{ p uintptr }{p})) }

// insertCard puts the counter under every journal opened from now on whose path holds cardWords.
func insertCard(t testing.TB) {
	t.Helper()
	if unsafe.Sizeof(uintptr(0)) != 8 || runtime.GOOS != "linux" {
		t.Skip("the card knows the layout of 64-bit Linux only")
	}
	card.refuse.Store(cardWell)
	card.bytes.Store(0)
	card.copied.Store(0)
	card.syncs.Store(0)
	card.once.Do(func() {
		card.methods = map[uintptr]*[2]uintptr{}
		tls := libc.NewTLS()
		vfs := sqlite3.Xsqlite3_vfs_find(tls, 0)
		card.open = libc.AtomicLoadPUintptr(vfs + vfsOpen)
		libc.AtomicStorePUintptr(vfs+vfsOpen, cPointer(cardOpen))
	})
}

func cardOpen(tls *libc.TLS, vfs, path, file uintptr, flags int32, out uintptr) int32 {
	rc := cFunction[func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32](card.open)(tls, vfs, path, file, flags, out)
	own := libc.AtomicLoadPUintptr(file)
	if rc != 0 || own == 0 || path == 0 || !strings.Contains(libc.GoString(path), cardWords) {
		return rc
	}
	if card.methods[own] == nil {
		card.write, card.sync = libc.AtomicLoadPUintptr(own+methodsWrite), libc.AtomicLoadPUintptr(own+methodsSync)
		ours := new([2]uintptr)
		for i, write := range []uintptr{cPointer(cardWrite), cPointer(cardCopy)} {
			ours[i] = libc.Xmalloc(tls, methodsSize)
			libc.Xmemcpy(tls, ours[i], own, methodsSize)
			libc.AtomicStorePUintptr(ours[i]+methodsWrite, write)
			libc.AtomicStorePUintptr(ours[i]+methodsSync, cPointer(cardSync))
		}
		card.methods[own] = ours
	}
	which := 0
	if strings.Contains(libc.GoString(path), "backups") {
		which = 1
	}
	libc.AtomicStorePUintptr(file, card.methods[own][which])
	return rc
}

func cardWrite(tls *libc.TLS, file, buf uintptr, n int32, at int64) int32 {
	if rc := card.refuse.Load(); rc != cardWell {
		return rc
	}
	card.bytes.Add(int64(n))
	return cFunction[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](card.write)(tls, file, buf, n, at)
}

func cardCopy(tls *libc.TLS, file, buf uintptr, n int32, at int64) int32 {
	card.copied.Add(int64(n))
	return cFunction[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](card.write)(tls, file, buf, n, at)
}

func cardSync(tls *libc.TLS, file uintptr, flags int32) int32 {
	card.syncs.Add(1)
	return cFunction[func(*libc.TLS, uintptr, int32) int32](card.sync)(tls, file, flags)
}
