use periband::Case; use periband::pass::batch::Batch; use std::path::Path;
fn main(){ let case=Case::load(Path::new("/work/main/examples/mars-arrival.yaml"),&[]).unwrap(); let n: usize=std::env::var("N").ok().and_then(|s|s.parse().ok()).unwrap_or(4000); let mut i=0; let t=std::time::Instant::now(); let mut acc=0.0;
 let c=Batch::new(case.problem.planet(),case.problem.settings()).fly(||{ (i<n).then(||{ let x=case.problem.numbers(i as u64); let (a,b)=case.problem.launch(51.2e3,&x).unwrap(); i+=1; (i-1,a,b)})},|_,r|acc+=r.duration_s);
 println!("{c:?} {} {acc}", n as f64/t.elapsed().as_secs_f64()); }
