use periband::craft::Vehicle;
use periband::craft::vehicle::VehicleNumbers;
use periband::pass::approach::{Approach, Energy};
use periband::pass::batch::{Batch, Settings, Instructions};
use periband::pass::{Sample};
use periband::pass::reference::{rates};
use periband::world::planet::AirSample;
use periband::world::{ExponentialWorld, Planet};
use ode_solvers::{Dop853, Dopri5, System, OutputType};
use nalgebra::SVector;

fn cpu() -> f64 { let s = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap(); s.split_whitespace().next().unwrap().parse::<f64>().unwrap()*1e-9 }
struct S<'a>{p:&'a Planet,s:&'a Sample<f64>, l:f64, v:f64}
type V=SVector<f64,8>;
impl System<f64,V> for S<'_>{
  fn system(&self,_t:f64,y:&V,dy:&mut V){ let (l,v)=(self.l,self.v); let r=rates(self.p,self.s,&[y[0]*l,y[1]*l,y[2]*l,y[3]*v,y[4]*v,y[5]*v,y[6]*1e8,y[7]*v]); *dy=V::from([r[0]/l,r[1]/l,r[2]/l,r[3]/v,r[4]/v,r[5]/v,r[6]/1e8,r[7]/v]); }
  fn solout(&mut self,_t:f64,y:&V,_dy:&V)->bool{ let l=self.l; let r=periband::numeric::Vec3::new(y[0]*l,y[1]*l,y[2]*l); self.p.altitude_at(r)>self.p.interface_m && r.x*y[3]+r.y*y[4]+r.z*y[5]>0.0 }
}
fn main(){
    let mut w = ExponentialWorld::default();
    w.gm_m3_s2=4.2828375e13; w.equatorial_radius_m=3396190.0; w.polar_radius_m=Some(3376200.0); w.j2=1.9566e-3; w.rotation_rad_s=7.088e-5; w.entry_interface_m=125e3; w.surface_density_kg_m3=0.02; w.scale_height_m=9500.0; w.log_sigma=0.1;
    let planet = Planet::new(&w.build().unwrap());
    let mk = |n: usize| {
        let z = ((n*7919)%1000) as f64/1000.0-0.5;
        let vehicle = Vehicle::new(&VehicleNumbers { mass_kg: 62e3*(1.0+0.01*z), reference_area_m2: 310.0, drag_coefficient: 1.45, lift_to_drag: 0.0, bank_angle_rad: 0.0, nose_radius_m: 3.2, heating_constant: 1.9e-4});
        let a = Approach{energy:Energy::ExcessSpeed(3100.0),periapsis_altitude_m:52e3+4e3*z,inclination_rad:0.55,argument_of_periapsis_rad:0.3,b_plane_miss_m:(0.0,0.0),angle_error_rad:0.0,speed_error_m_s:1.0*z};
        (a.entry_state(&planet).unwrap(), Sample{vehicle,air:AirSample{sigmas:z,ln_factor:0.0},lifting:false})
    };
    let total=100_000usize;
    let t=cpu(); let mut acc=0.0; for n in 0..total { let (a,_)=mk(n); acc+=a.position.x; } println!("setup {:.0} ns {}", (cpu()-t)/total as f64*1e9, acc);
    let mut exact=vec![0.0;total]; let mut dur=vec![0.0;total];
    for (ins,tol,total) in [(Instructions::Widest,1e-13,2000),(Instructions::Widest,1e-6,total),(Instructions::Widest,3e-7,total),(Instructions::Widest,1e-7,total),(Instructions::Widest,1e-8,total),(Instructions::Widest,1e-9,total),] {
        let mut settings=Settings::new(&planet); settings.tolerance=tol; settings.instructions=ins;
        let mut batch=Batch::new(&planet,&settings);
        let t=cpu(); let mut n=0; let mut g=0.0; let mut worst=vec![];
        let cost=batch.fly(||{ n+=1; if n>total {None} else { let (a,s)=mk(n-1); Some((n-1,a,s)) }}, |i,r| { g+=r.peak_deceleration_m_s2; if tol==1e-13 { exact[i]=r.end_inertial_speed_m_s; dur[i]=r.duration_s } else if i<2000 { worst.push((r.end_inertial_speed_m_s-exact[i]).abs()) } });
        let dt=cpu()-t;
        worst.sort_by(f64::total_cmp);
        println!("{ins:?} {tol:e}: {:.0}/s, {:.1} steps, {:.0} ns/lane-step, mean g {:.3} exit err p99.9 {:?}", total as f64/dt, cost.flight_steps as f64/total as f64, dt/cost.flight_steps as f64*1e9, g/total as f64/9.80665, worst.get(worst.len().saturating_sub(3)));
    }
    let (l,v)=(planet.equatorial_radius_m,planet.circular_speed_m_s());

    struct F<'a>(S<'a>);
    impl System<f64,V> for F<'_>{ fn system(&self,t:f64,y:&V,dy:&mut V){ self.0.system(t,y,dy) } }
    let mut ex: Vec<f64>=vec![];
    for tol in [1e-13f64,1e-4,1e-5,3e-6,1e-6,3e-7,1e-7,1e-8,1e-9] { for which in 0..2 {
      let total=2000; let t=cpu(); let mut evals=0; let mut sp=vec![];
      for i in 0..total { let (a,s)=mk(i); let y=V::from([a.position.x/l,a.position.y/l,a.position.z/l,a.velocity.x/v,a.velocity.y/v,a.velocity.z/v,0.0,0.0]);
        let sys=F(S{p:&planet,s:&s,l,v}); let te=dur[i];
        let last = if which==0 { let mut st=Dop853::from_param(sys,0.0,te,1.0,y,tol,tol,0.9,0.0,0.333,6.0,6000.0,0.0,100000,u32::MAX,OutputType::Sparse); let stt=st.integrate().unwrap(); evals+=stt.num_eval; *st.y_out().last().unwrap() }
          else { let mut st=Dopri5::from_param(sys,0.0,te,1.0,y,tol,tol,0.9,0.04,0.2,10.0,6000.0,0.0,100000,u32::MAX,OutputType::Sparse); let stt=st.integrate().unwrap(); evals+=stt.num_eval; *st.y_out().last().unwrap() };
        sp.push((last[3]*last[3]+last[4]*last[4]+last[5]*last[5]).sqrt()*v);
      }
      let dt=cpu()-t;
      if ex.is_empty() { ex=sp.clone(); }
      let mut d: Vec<f64>=sp.iter().zip(&ex).map(|(a,b)|(a-b).abs()).collect(); d.sort_by(f64::total_cmp);
      println!("{} {tol:e} err p99.9 {:.2e} {:.0}/s evals {:.0}", if which==0 {"Dop853"} else {"Dopri5"}, d[d.len()-3], total as f64/dt, evals as f64/total as f64);
    }}
}
