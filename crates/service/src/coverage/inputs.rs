//! All that a run is worked from, read from one state of the ground and one of the hydrants, and put on a plane.

use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDate;
use longlay_coverage::finding::TooMany;
use longlay_coverage::records::{Hydrant, Place};
use longlay_coverage::streets::{Line, Streets};
use longlay_hydraulics::lay::{LayProblem, Source};
use longlay_records::district::District;
use longlay_records::hydrant::{Elevation, Location, Status};
use longlay_records::id::AssetId;
use longlay_records::shape::ShapeIndex;
use longlay_records::street::Street;
use longlay_records::terrain::ElevationGrid;
use longlay_store::{HydrantQuery, Store, StoreError, Supplied, Town};

use crate::coverage::department::Department;
use crate::coverage::fingerprint::{Fingerprint, Print, hex};
use crate::coverage::plane::Plane;
use crate::coverage::settings::CoverageSettings;
use crate::coverage::work::Undone;

/// What is read of the records.
pub(crate) struct Gathered {
    settings: CoverageSettings,
    lay: LayProblem,
    streets: Vec<Street>,
    streets_sha256: Option<String>,
    points: Vec<Point>,
    districts: Vec<District>,
    heights: Option<ElevationGrid>,
    town: Arc<Town>,
    today: NaiveDate,
    hydrants: Vec<Supplied>,
    department: Option<Department>,
}

/// A demand point.
pub(crate) struct Point {
    pub(crate) id: AssetId,
    pub(crate) name: Option<String>,
    pub(crate) location: Location,
    /// The districts it lies in, by their places among [`Inputs::district_ids`].
    pub(crate) districts: Vec<u32>,
    need_gpm: Option<f64>,
    ground_ft: Option<f64>,
}

/// What a run is worked from, on a plane.
pub(crate) struct Inputs {
    pub(crate) settings: CoverageSettings,
    pub(crate) lay: LayProblem,
    pub(crate) streets: Streets,
    pub(crate) street_ids: Vec<String>,
    pub(crate) points: Vec<Point>,
    /// The same points as the run takes them.
    pub(crate) places: Vec<Place>,
    pub(crate) hydrants: Vec<Hydrant>,
    pub(crate) hydrant_ids: Vec<AssetId>,
    pub(crate) district_ids: Vec<AssetId>,
    pub(crate) fingerprint: Fingerprint,
    pub(crate) plane: Plane,
    /// The lays that could be changed to, where remedies are asked for.
    pub(crate) department: Option<Department>,
}

impl Gathered {
    /// Reads all of it.
    pub(crate) async fn read(
        store: &Store,
        town: Arc<Town>,
        settings: CoverageSettings,
        lay: LayProblem,
        today: NaiveDate,
    ) -> Result<Self, StoreError> {
        let mut ground = store.snapshot().await?;
        let (mut streets, mut points) = (Vec::new(), Vec::new());
        ground.each_street(|street| streets.push(street)).await?;
        ground
            .each_demand_point(|point| {
                // A need without a number is one that is not known.
                let need_gpm = point.need.as_ref().and_then(|need| need.gpm().ok());
                let ground_ft = point.ground.map(Elevation::ft);
                let (id, name, location) = (point.id, point.name.or(point.address), point.location);
                points.push(Point { id, name, location, districts: Vec::new(), need_gpm, ground_ft });
            })
            .await?;
        Ok(Self {
            lay,
            streets,
            streets_sha256: ground.street_network().await?.map(|network| hex(&network.sha256)),
            points,
            districts: ground.all_districts().await?,
            heights: ground.elevation_grid().await?,
            department: department(&town, &settings, today)?,
            settings,
            town,
            today,
            hydrants: Vec::new(),
        })
    }

    /// Puts it on a plane. Takes long: off the request's thread.
    pub(crate) fn prepared(mut self) -> Result<Inputs, Undone> {
        let every = HydrantQuery::default();
        self.hydrants = self.town.supplies(&every, None, self.today).collect::<Result<_, _>>()?;
        // Of all demand points, whichever district is asked for: what was asked is no matter of the data.
        let fingerprint = self.fingerprint();
        self.put_in_districts();
        let plane = self.plane();
        let heights = self.heights.as_ref();
        let ground = |own: Option<f64>, at: Location| own.or_else(|| Some(heights?.at(at)?.ft()));
        let place = |point: &Point| {
            let [x, y] = plane.feet(point.location);
            Place { x, y, need_gpm: point.need_gpm, ground_ft: ground(point.ground_ft, point.location) }
        };
        let systems = Systems::of(&self.hydrants);
        let hydrant = |supplied: &Supplied| {
            let hydrant = &supplied.hydrant;
            let [x, y] = plane.feet(hydrant.location);
            Hydrant {
                x,
                y,
                source: source(supplied),
                borrowed: supplied.supply.as_ref().is_ok_and(|supply| supply.borrowed_from.is_some()),
                in_service: hydrant.status == Status::InService,
                main: systems.of_hydrant(hydrant),
                ground_ft: ground(hydrant.elevation.map(Elevation::ft), hydrant.location),
            }
        };
        Ok(Inputs {
            streets: streets(&self.streets, &plane)?,
            street_ids: self.streets.into_iter().map(|street| street.id).collect(),
            places: self.points.iter().map(place).collect(),
            hydrants: self.hydrants.iter().map(hydrant).collect(),
            hydrant_ids: self.hydrants.iter().map(|supplied| supplied.hydrant.id.clone()).collect(),
            district_ids: self.districts.into_iter().map(|district| district.id).collect(),
            points: self.points,
            lay: self.lay,
            settings: self.settings,
            fingerprint,
            plane,
            department: self.department,
        })
    }

    /// Tells each point its districts, and leaves out those that are not in the one asked for.
    fn put_in_districts(&mut self) {
        let asked = self.settings.district_id.as_deref();
        for (index, district) in (0_u32..).zip(&self.districts) {
            let shape = ShapeIndex::new(&district.shape);
            for point in self.points.iter_mut().filter(|point| shape.contains(point.location)) {
                point.districts.push(index);
            }
        }
        let asked = asked.and_then(|asked| self.districts.iter().position(|district| district.id.as_str() == asked));
        if let Some(asked) = asked.and_then(|index| u32::try_from(index).ok()) {
            self.points.retain(|point| point.districts.contains(&asked));
        }
    }

    /// In the middle of what is asked of, and where nothing is asked, of the hydrants.
    fn plane(&self) -> Plane {
        if self.points.is_empty() {
            Plane::amid(self.hydrants.iter().map(|supplied| supplied.hydrant.location))
        } else {
            Plane::amid(self.points.iter().map(|point| point.location))
        }
    }

    fn fingerprint(&self) -> Fingerprint {
        let (mut points, mut hydrants, mut districts, mut equipment) =
            (Print::default(), Print::default(), Print::default(), Print::default());
        for point in &self.points {
            points.text(point.id.as_str());
            for number in [Some(point.location.lon()), Some(point.location.lat()), point.need_gpm, point.ground_ft] {
                points.number(number);
            }
        }
        for Supplied { hydrant, supply } in &self.hydrants {
            hydrants.text(hydrant.id.as_str());
            for number in [hydrant.location.lon(), hydrant.location.lat()] {
                hydrants.number(Some(number));
            }
            hydrants.number(hydrant.elevation.map(Elevation::ft));
            hydrants.text(hydrant.main_id.as_deref().unwrap_or_default());
            hydrants.text(if hydrant.status == Status::InService { "in service" } else { "out of service" });
            // What the run takes of a test, to the last digit: derived text leaves nothing out.
            hydrants.text(&format!("{:?}", supply.as_ref().ok().map(|supply| source_of(supply))));
        }
        for district in &self.districts {
            districts.text(district.id.as_str());
            for place in district.shape.polygons().iter().flatten().flatten() {
                districts.number(Some(place.lon()));
                districts.number(Some(place.lat()));
            }
        }
        equipment.text(&format!("{:?}", self.lay));
        if let Some(heights) = &self.heights {
            heights.heights().for_each(|height| points.number(height.map(Elevation::ft)));
        }
        Fingerprint {
            streets: self.streets_sha256.clone(),
            demand_points: points.finish(),
            hydrants: hydrants.finish(),
            districts: districts.finish(),
            equipment: equipment.finish(),
        }
    }
}

/// The lays that could be changed to; none where no remedies are asked for.
fn department(town: &Town, settings: &CoverageSettings, today: NaiveDate) -> Result<Option<Department>, StoreError> {
    if settings.remedies == 0 {
        return Ok(None);
    }
    let mut refs = town.every_part();
    let own = settings.refs();
    refs.lay_profile_id = own.lay_profile_id;
    refs.pumper_ids.extend(own.pumper_ids);
    Ok(Department::new(settings, town.lay_inputs(&refs, today)?))
}

/// Which hydrants are known to be fed apart. Two mains of one zone are fed alike and may be one system: only another zone is another source, and a main that
/// stands in two zones in the records is in neither.
pub(crate) struct Systems<'a> {
    zones: BTreeMap<&'a str, u32>,
    zone_of_main: BTreeMap<&'a str, Option<&'a str>>,
}

impl<'a> Systems<'a> {
    pub(crate) fn of(hydrants: &'a [Supplied]) -> Self {
        let (mut zones, mut zone_of_main) = (BTreeMap::new(), BTreeMap::new());
        for Supplied { hydrant, .. } in hydrants {
            let (Some(main), Some(zone)) = (hydrant.main_id.as_deref(), hydrant.pressure_zone.as_deref()) else {
                continue;
            };
            let number = u32::try_from(zones.len()).unwrap_or(u32::MAX);
            zones.entry(zone).or_insert(number);
            let of_main = zone_of_main.entry(main).or_insert(Some(zone));
            *of_main = of_main.filter(|known| *known == zone);
        }
        Self { zones, zone_of_main }
    }

    /// A number for the system that a hydrant is known to be fed from; none where that is not known.
    pub(crate) fn of_hydrant(&self, hydrant: &longlay_records::hydrant::Hydrant) -> Option<u32> {
        let zone = hydrant.pressure_zone.as_deref()?;
        let of_main = self.zone_of_main.get(hydrant.main_id.as_deref()?).copied().flatten()?;
        if of_main == zone { self.zones.get(zone).copied() } else { None }
    }
}

/// The streets on a plane.
pub(crate) fn streets(streets: &[Street], plane: &Plane) -> Result<Streets, TooMany> {
    let points: Vec<Vec<[f64; 2]>> =
        streets.iter().map(|street| street.line.iter().map(|place| plane.feet(*place)).collect()).collect();
    let lines: Vec<_> = streets
        .iter()
        .zip(&points)
        .map(|(street, points)| Line {
            points,
            from_level: street.from_level,
            to_level: street.to_level,
            barrier: street.barrier.is_some(),
        })
        .collect();
    Streets::new(&lines)
}

fn source(supplied: &Supplied) -> Option<Source> {
    supplied.supply.as_ref().ok().map(|supply| source_of(supply))
}

fn source_of(supply: &longlay_records::supply::Supply) -> Source {
    Source {
        curve: supply.curve,
        body_loss: supply.body_loss,
        body_loss_assumed: supply.body_loss_assumed,
        spread: supply.spread,
    }
}
