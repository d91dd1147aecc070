package drivers

// crcOneWire is the CRC-8 of 1-wire ROMs and scratchpads: x^8+x^5+x^4+1, reflected (0x8C), start 0, as in the DS18B20 data
// sheet. Over data and its CRC byte it gives 0. Nine noughts pass it: a line at ground must be refused separately.
func crcOneWire(data []byte) byte {
	crc := byte(0)
	for _, b := range data {
		crc ^= b
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0x8C
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}

// crcHumidity is the CRC-8 of the SHT, HDC302x and AHT families: polynomial 0x31, start 0xFF, not reflected; 0xBE 0xEF gives
// 0x92 (SHT4x data sheet, "checksum calculation").
func crcHumidity(data []byte) byte {
	crc := byte(0xFF)
	for _, b := range data {
		crc ^= b
		for range 8 {
			if crc&0x80 != 0 {
				crc = crc<<1 ^ 0x31
			} else {
				crc <<= 1
			}
		}
	}
	return crc
}

// crc16 is the reflected CRC-16 with polynomial 0xA001 that Modbus (start 0xFFFF) and SDI-12 (start 0) share.
func crc16(start uint16, data []byte) uint16 {
	crc := start
	for _, b := range data {
		crc ^= uint16(b)
		for range 8 {
			if crc&1 != 0 {
				crc = crc>>1 ^ 0xA001
			} else {
				crc >>= 1
			}
		}
	}
	return crc
}

// crcModbus is the frame check of Modbus over serial line, sent low byte first.
func crcModbus(frame []byte) uint16 { return crc16(0xFFFF, frame) }

// crcSDI12 is the three-letter check of the SDI-12 specification 1.4, section 4.4.12, over the address and all values.
func crcSDI12(text string) string {
	crc := crc16(0, []byte(text))
	return string([]byte{0x40 | byte(crc>>12), 0x40 | byte(crc>>6&0x3F), 0x40 | byte(crc&0x3F)})
}
