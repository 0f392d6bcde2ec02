package lock

import "testing"

func TestOnNetwork(t *testing.T) {
	for kind, want := range map[int64]bool{
		0x6969: true, 0xff534d42: true, 0xff534d42 - 1<<32: true, 0xfe534d42 - 1<<32: true, 0x01021997: true,
		0xef53: false, 0x9123683e: false, 0x9123683e - 1<<32: false, 0x01021994: false, // ext4, btrfs, tmpfs
	} {
		if got := onNetwork(kind); got != want {
			t.Errorf("%#x: %t, want %t", kind, got, want)
		}
	}
}
