package reports
import ("testing";"time";"nightfloor/survey")
func TestZZ(t *testing.T){
 d:=newTide(3,func(k,i int,h float64)float64{for h>24{h-=24}; return dishwasher(k,i,h)+dusk(h,8,3)})
 d.rounds=9000
 d.mark=func(r *survey.Reading,k,i int,h float64){for h>24{h-=24}; if dishwasher(k,i,h)>0{comb(r,-95)}}
 in:=d.input()
 in=Select(in,Options{})
 l:=newNoiseLog(in)
 at:=time.Now(); r:=l.rises(nil); t.Log(len(l.readings),len(r),time.Since(at))
 kinds:=map[string]int{}; for _,x:=range r{kinds[x.Kind]++}; t.Log(kinds)
}
