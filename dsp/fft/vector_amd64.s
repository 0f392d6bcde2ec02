#include "textflag.h"

// The loops of stage.go, framer.go and powers.go, eight points at once, in
// AVX2 with fused multiply-add. Operands stand in Go's order: the last is
// written, and VSUBPS b, a, y is y = a − b.
//
// Registers in the stages: SI, DI read the real and imaginary parts, R8 bytes
// (and 2·R8, R9 = 3·R8) from one quarter to the next; R10, R11 write them. BX
// and AX point at the first and the fourth row of twiddles, CX bytes apart.

// LOAD reads a, b, c, d: real parts to Y0…Y3, imaginary ones to Y4…Y7.
#define LOAD \
	VMOVUPS (SI), Y0; \
	VMOVUPS (SI)(R8*1), Y1; \
	VMOVUPS (SI)(R8*2), Y2; \
	VMOVUPS (SI)(R9*1), Y3; \
	VMOVUPS (DI), Y4; \
	VMOVUPS (DI)(R8*1), Y5; \
	VMOVUPS (DI)(R8*2), Y6; \
	VMOVUPS (DI)(R9*1), Y7; \
	ADDQ $32, SI; \
	ADDQ $32, DI

// WEIGH turns x of one quarter into x·window.
#define WEIGH(w, yr, yi) \
	VMOVUPS w, Y14; \
	VMULPS Y14, yr, yr; \
	VMULPS Y14, yi, yi

// BUTTERFLY turns them into the four results before their twiddles:
// (Y2,Y3) a+c+b+d, (Y6,Y7) (a−c)−j(b−d), (Y8,Y10) a+c−b−d, (Y0,Y4) (a−c)+j(b−d).
#define BUTTERFLY \
	VADDPS Y2, Y0, Y8; \
	VSUBPS Y2, Y0, Y0; \
	VADDPS Y3, Y1, Y9; \
	VSUBPS Y3, Y1, Y1; \
	VADDPS Y6, Y4, Y10; \
	VSUBPS Y6, Y4, Y4; \
	VADDPS Y7, Y5, Y11; \
	VSUBPS Y7, Y5, Y5; \
	VADDPS Y9, Y8, Y2; \
	VSUBPS Y9, Y8, Y8; \
	VADDPS Y11, Y10, Y3; \
	VSUBPS Y11, Y10, Y10; \
	VADDPS Y5, Y0, Y6; \
	VSUBPS Y5, Y0, Y0; \
	VSUBPS Y1, Y4, Y7; \
	VADDPS Y1, Y4, Y4

// TURN multiplies u by the twiddle w into y; y shares no register with either.
#define TURN(ur, ui, wr, wi, yr, yi) \
	VMULPS wr, ur, yr; \
	VMULPS wi, ur, yi; \
	VFNMADD231PS wi, ui, yr; \
	VFMADD231PS wr, ui, yi

// HALVES writes the lower halves of four vectors side by side, then the upper
// ones. (Exchanging halves between registers costs eight steps on some
// processors; sixteen bytes more a store cost none.)
#define HALVES(x0, x1, x2, x3, y0, y1, y2, y3, to) \
	VMOVUPS x0, (to); \
	VMOVUPS x1, 16(to); \
	VMOVUPS x2, 32(to); \
	VMOVUPS x3, 48(to); \
	VEXTRACTF128 $1, y0, 64(to); \
	VEXTRACTF128 $1, y1, 80(to); \
	VEXTRACTF128 $1, y2, 96(to); \
	VEXTRACTF128 $1, y3, 112(to); \
	ADDQ $128, to

// QUADS turns four vectors of eight butterflies into Y12…Y15, which hold all
// four results of one butterfly in their lower, of another in their upper half.
#define QUADS(y0, y1, y2, y3) \
	VUNPCKLPS y1, y0, Y0; \
	VUNPCKHPS y1, y0, Y1; \
	VUNPCKLPS y3, y2, Y4; \
	VUNPCKHPS y3, y2, Y5; \
	VUNPCKLPD Y4, Y0, Y12; \
	VUNPCKHPD Y4, Y0, Y13; \
	VUNPCKLPD Y5, Y1, Y14; \
	VUNPCKHPD Y5, Y1, Y15

// pairs picks the first of eight floats four times, then the second.
DATA pairs<>+0(SB)/8, $0x0000000000000000
DATA pairs<>+8(SB)/8, $0x0000000000000000
DATA pairs<>+16(SB)/8, $0x0000000100000001
DATA pairs<>+24(SB)/8, $0x0000000100000001
GLOBL pairs<>(SB), RODATA|NOPTR, $32

DATA midCode<>+0(SB)/4, $0x42ff0000 // 127.5
GLOBL midCode<>(SB), RODATA|NOPTR, $4

DATA codeStep<>+0(SB)/4, $0x3c000000 // 1/128
GLOBL codeStep<>(SB), RODATA|NOPTR, $4

// func stageFirstAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch int)
TEXT ·stageFirstAVX(SB), NOSPLIT, $0-56
	MOVQ fromRe+0(FP), SI
	MOVQ fromIm+8(FP), DI
	MOVQ toRe+16(FP), R10
	MOVQ toIm+24(FP), R11
	MOVQ twiddles+32(FP), BX
	MOVQ quarter+40(FP), DX
	MOVQ pitch+48(FP), CX
	LEAQ (DX*4), R8
	LEAQ (R8)(R8*2), R9
	SHLQ $2, CX
	LEAQ (CX)(CX*2), AX
	ADDQ BX, AX
	SHRQ $3, DX

first:
	LOAD
	BUTTERFLY
	TURN(Y6, Y7, (BX), (BX)(CX*1), Y9, Y11)
	TURN(Y8, Y10, (BX)(CX*2), (AX), Y6, Y7)
	TURN(Y0, Y4, (AX)(CX*1), (AX)(CX*2), Y8, Y10)
	ADDQ $32, BX
	ADDQ $32, AX
	QUADS(Y2, Y9, Y6, Y8)
	HALVES(X12, X13, X14, X15, Y12, Y13, Y14, Y15, R10)
	QUADS(Y3, Y11, Y7, Y10)
	HALVES(X12, X13, X14, X15, Y12, Y13, Y14, Y15, R11)
	DECQ DX
	JNZ  first
	VZEROUPPER
	RET

// func stageFirstWeighedAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch int, window *float32)
//
// R12 reads the window.
TEXT ·stageFirstWeighedAVX(SB), NOSPLIT, $0-64
	MOVQ fromRe+0(FP), SI
	MOVQ fromIm+8(FP), DI
	MOVQ toRe+16(FP), R10
	MOVQ toIm+24(FP), R11
	MOVQ twiddles+32(FP), BX
	MOVQ quarter+40(FP), DX
	MOVQ pitch+48(FP), CX
	MOVQ window+56(FP), R12
	LEAQ (DX*4), R8
	LEAQ (R8)(R8*2), R9
	SHLQ $2, CX
	LEAQ (CX)(CX*2), AX
	ADDQ BX, AX
	SHRQ $3, DX

weighed:
	LOAD
	WEIGH((R12), Y0, Y4)
	WEIGH((R12)(R8*1), Y1, Y5)
	WEIGH((R12)(R8*2), Y2, Y6)
	WEIGH((R12)(R9*1), Y3, Y7)
	ADDQ $32, R12
	BUTTERFLY
	TURN(Y6, Y7, (BX), (BX)(CX*1), Y9, Y11)
	TURN(Y8, Y10, (BX)(CX*2), (AX), Y6, Y7)
	TURN(Y0, Y4, (AX)(CX*1), (AX)(CX*2), Y8, Y10)
	ADDQ $32, BX
	ADDQ $32, AX
	QUADS(Y2, Y9, Y6, Y8)
	HALVES(X12, X13, X14, X15, Y12, Y13, Y14, Y15, R10)
	QUADS(Y3, Y11, Y7, Y10)
	HALVES(X12, X13, X14, X15, Y12, Y13, Y14, Y15, R11)
	DECQ DX
	JNZ  weighed
	VZEROUPPER
	RET

// func stageSecondAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch int)
TEXT ·stageSecondAVX(SB), NOSPLIT, $0-56
	MOVQ fromRe+0(FP), SI
	MOVQ fromIm+8(FP), DI
	MOVQ toRe+16(FP), R10
	MOVQ toIm+24(FP), R11
	MOVQ twiddles+32(FP), BX
	MOVQ quarter+40(FP), DX
	MOVQ pitch+48(FP), CX
	MOVQ DX, R8
	SHLQ $4, R8
	LEAQ (R8)(R8*2), R9
	SHLQ $2, CX
	LEAQ (CX)(CX*2), AX
	ADDQ BX, AX
	SHRQ $1, DX
	VMOVUPS pairs<>(SB), Y15

second:
	LOAD
	BUTTERFLY
	VPERMPS (BX), Y15, Y1
	VPERMPS (BX)(CX*1), Y15, Y5
	TURN(Y6, Y7, Y1, Y5, Y9, Y11)
	VPERMPS (BX)(CX*2), Y15, Y12
	VPERMPS (AX), Y15, Y13
	TURN(Y8, Y10, Y12, Y13, Y6, Y7)
	VPERMPS (AX)(CX*1), Y15, Y1
	VPERMPS (AX)(CX*2), Y15, Y5
	TURN(Y0, Y4, Y1, Y5, Y8, Y10)
	ADDQ $8, BX
	ADDQ $8, AX
	HALVES(X2, X9, X6, X8, Y2, Y9, Y6, Y8, R10)
	HALVES(X3, X11, X7, X10, Y3, Y11, Y7, Y10, R11)
	DECQ DX
	JNZ  second
	VZEROUPPER
	RET

// func stageLaterAVX(fromRe, fromIm, toRe, toIm, twiddles *float32, quarter, pitch, stride int)
//
// Results go R12 bytes (the stride; R13 three times it) apart.
TEXT ·stageLaterAVX(SB), NOSPLIT, $0-64
	MOVQ fromRe+0(FP), SI
	MOVQ fromIm+8(FP), DI
	MOVQ toRe+16(FP), R10
	MOVQ toIm+24(FP), R11
	MOVQ twiddles+32(FP), BX
	MOVQ quarter+40(FP), DX
	MOVQ pitch+48(FP), CX
	MOVQ stride+56(FP), R12
	SHLQ $2, R12
	LEAQ (R12)(R12*2), R13
	MOVQ DX, R8
	IMULQ R12, R8
	LEAQ (R8)(R8*2), R9
	SHLQ $2, CX
	LEAQ (CX)(CX*2), AX
	ADDQ BX, AX

row:
	VBROADCASTSS (BX), Y12
	VBROADCASTSS (BX)(CX*1), Y13
	VBROADCASTSS (BX)(CX*2), Y14
	VBROADCASTSS (AX), Y15
	MOVQ R12, R15
	SHRQ $5, R15

column:
	LOAD
	BUTTERFLY
	VMOVUPS Y2, (R10)
	VMOVUPS Y3, (R11)
	VBROADCASTSS (AX)(CX*1), Y1
	VBROADCASTSS (AX)(CX*2), Y5
	TURN(Y6, Y7, Y12, Y13, Y9, Y11)
	VMOVUPS Y9, (R10)(R12*1)
	VMOVUPS Y11, (R11)(R12*1)
	TURN(Y8, Y10, Y14, Y15, Y6, Y7)
	VMOVUPS Y6, (R10)(R12*2)
	VMOVUPS Y7, (R11)(R12*2)
	TURN(Y0, Y4, Y1, Y5, Y8, Y10)
	VMOVUPS Y8, (R10)(R13*1)
	VMOVUPS Y10, (R11)(R13*1)
	ADDQ $32, R10
	ADDQ $32, R11
	DECQ R15
	JNZ  column
	ADDQ R13, R10
	ADDQ R13, R11
	ADDQ $4, BX
	ADDQ $4, AX
	DECQ DX
	JNZ  row
	VZEROUPPER
	RET

// func lastRadix4AVX(fromRe, fromIm, toRe, toIm *float32, quarter int)
TEXT ·lastRadix4AVX(SB), NOSPLIT, $0-40
	MOVQ fromRe+0(FP), SI
	MOVQ fromIm+8(FP), DI
	MOVQ toRe+16(FP), R10
	MOVQ toIm+24(FP), R11
	MOVQ quarter+32(FP), DX
	LEAQ (DX*4), R8
	LEAQ (R8)(R8*2), R9
	SHRQ $3, DX

last4:
	LOAD
	BUTTERFLY
	VMOVUPS Y2, (R10)
	VMOVUPS Y3, (R11)
	VMOVUPS Y6, (R10)(R8*1)
	VMOVUPS Y7, (R11)(R8*1)
	VMOVUPS Y8, (R10)(R8*2)
	VMOVUPS Y10, (R11)(R8*2)
	VMOVUPS Y0, (R10)(R9*1)
	VMOVUPS Y4, (R11)(R9*1)
	ADDQ $32, R10
	ADDQ $32, R11
	DECQ DX
	JNZ  last4
	VZEROUPPER
	RET

// func lastRadix2AVX(fromRe, fromIm, toRe, toIm *float32, half int)
TEXT ·lastRadix2AVX(SB), NOSPLIT, $0-40
	MOVQ fromRe+0(FP), SI
	MOVQ fromIm+8(FP), DI
	MOVQ toRe+16(FP), R10
	MOVQ toIm+24(FP), R11
	MOVQ half+32(FP), DX
	LEAQ (DX*4), R8
	SHRQ $3, DX

last2:
	VMOVUPS (SI), Y0
	VMOVUPS (SI)(R8*1), Y1
	VMOVUPS (DI), Y4
	VMOVUPS (DI)(R8*1), Y5
	VADDPS Y1, Y0, Y2
	VSUBPS Y1, Y0, Y3
	VADDPS Y5, Y4, Y6
	VSUBPS Y5, Y4, Y7
	VMOVUPS Y2, (R10)
	VMOVUPS Y3, (R10)(R8*1)
	VMOVUPS Y6, (R11)
	VMOVUPS Y7, (R11)(R8*1)
	ADDQ $32, SI
	ADDQ $32, DI
	ADDQ $32, R10
	ADDQ $32, R11
	DECQ DX
	JNZ  last2
	VZEROUPPER
	RET

// func unpackU8AVX(re, im *float32, iq *byte, n int)
//
// A sample is a word, its real part the lower byte.
TEXT ·unpackU8AVX(SB), NOSPLIT, $0-32
	MOVQ re+0(FP), R10
	MOVQ im+8(FP), R11
	MOVQ iq+16(FP), SI
	MOVQ n+24(FP), DX
	VBROADCASTSS midCode<>(SB), Y6
	VBROADCASTSS codeStep<>(SB), Y7
	VPCMPEQW X5, X5, X5
	VPSRLW $8, X5, X5
	SHRQ $3, DX

unpack:
	VMOVUPS (SI), X0
	VPSRLW $8, X0, X1
	VPAND X5, X0, X0
	VPMOVZXWD X0, Y0
	VPMOVZXWD X1, Y1
	VCVTDQ2PS Y0, Y0
	VCVTDQ2PS Y1, Y1
	VSUBPS Y6, Y0, Y0
	VSUBPS Y6, Y1, Y1
	VMULPS Y7, Y0, Y0
	VMULPS Y7, Y1, Y1
	VMOVUPS Y0, (R10)
	VMOVUPS Y1, (R11)
	ADDQ $16, SI
	ADDQ $32, R10
	ADDQ $32, R11
	DECQ DX
	JNZ  unpack
	VZEROUPPER
	RET

// func splitAVX(re, im *float32, x *complex64, n int)
//
// VSHUFPS picks the real or the imaginary parts within each half of two
// registers; VPERMPD puts the halves' pairs into order.
TEXT ·splitAVX(SB), NOSPLIT, $0-32
	MOVQ re+0(FP), R10
	MOVQ im+8(FP), R11
	MOVQ x+16(FP), SI
	MOVQ n+24(FP), DX
	SHRQ $3, DX

split:
	VMOVUPS (SI), Y0
	VMOVUPS 32(SI), Y1
	VSHUFPS $0x88, Y1, Y0, Y2
	VSHUFPS $0xdd, Y1, Y0, Y3
	VPERMPD $0xd8, Y2, Y2
	VPERMPD $0xd8, Y3, Y3
	VMOVUPS Y2, (R10)
	VMOVUPS Y3, (R11)
	ADDQ $64, SI
	ADDQ $32, R10
	ADDQ $32, R11
	DECQ DX
	JNZ  split
	VZEROUPPER
	RET

// func addPowersAVX(sum, re, im *float32, n int)
//
// Products are rounded before they are added, as the loop in Go does.
TEXT ·addPowersAVX(SB), NOSPLIT, $0-32
	MOVQ sum+0(FP), R10
	MOVQ re+8(FP), SI
	MOVQ im+16(FP), DI
	MOVQ n+24(FP), DX
	SHRQ $3, DX

addPowers:
	VMOVUPS (SI), Y0
	VMOVUPS (DI), Y1
	VMULPS Y0, Y0, Y0
	VMULPS Y1, Y1, Y1
	VADDPS Y1, Y0, Y0
	VADDPS (R10), Y0, Y0
	VMOVUPS Y0, (R10)
	ADDQ $32, SI
	ADDQ $32, DI
	ADDQ $32, R10
	DECQ DX
	JNZ  addPowers
	VZEROUPPER
	RET
