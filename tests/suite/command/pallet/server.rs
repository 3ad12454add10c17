//! A server of the pallet as it is fitted, and its listing.

use std::collections::BTreeMap;
use std::fmt::Write;

#[derive(Clone)]
pub struct Module {
    pub size: &'static str,
    pub generation: &'static str,
    pub detail: &'static str,
    pub part: &'static str,
    pub rated: u32,
    pub runs: u32,
    pub ranks: u8,
    pub serial: String,
}

#[derive(Clone, Copy, PartialEq)]
pub enum Model {
    /// Two sockets, three channels of three slots.
    Kestrel,
    /// One socket, four channels of two slots.
    Plover,
}

impl Model {
    pub fn sockets(self) -> u16 {
        if self == Self::Kestrel { 2 } else { 1 }
    }

    pub fn slots(self) -> Vec<String> {
        let (channels, positions) = if self == Self::Kestrel { (3, 3) } else { (4, 2) };
        let mut slots = Vec::new();
        for socket in 1..=self.sockets() {
            for channel in 1..=channels {
                slots.extend((1..=positions).map(|position| format!("s{socket}.c{channel}.p{position}")));
            }
        }
        slots
    }

    pub fn module(self, serial: String) -> Module {
        match self {
            Self::Kestrel => Module {
                size: "16 GB",
                generation: "DDR3",
                detail: "Synchronous Registered (Buffered)",
                part: "WW16-2R4-1333L",
                rated: 1333,
                runs: 1333,
                ranks: 2,
                serial,
            },
            Self::Plover => Module {
                size: "32 GB",
                generation: "DDR4",
                detail: "Synchronous Registered (Buffered)",
                part: "PL32-2R4-2666",
                rated: 2666,
                runs: 2666,
                ranks: 2,
                serial,
            },
        }
    }

    /// The slots that its plan fills.
    pub fn planned(self) -> Vec<String> {
        let last = if self == Self::Kestrel { ".p3" } else { ".p2" };
        self.slots().into_iter().filter(|slot| !slot.ends_with(last)).collect()
    }

    pub fn product(self) -> &'static str {
        if self == Self::Kestrel { "Kestrel Twin" } else { "Plover One" }
    }
}

/// One server as it is fitted.
#[derive(Clone)]
pub struct Server {
    pub number: u32,
    pub model: Model,
    pub product: &'static str,
    pub modules: BTreeMap<String, Module>,
    pub absent_sockets: Vec<u16>,
    pub correction: &'static str,
    pub speaks_of_speed: bool,
    pub speaks_of_serials: bool,
    /// A slot whose module keeps its name and gives nothing.
    pub idle: Option<&'static str>,
}

impl Server {
    pub fn new(number: u32, model: Model) -> Self {
        let module = |(place, slot): (usize, String)| {
            let serial = format!("WM{number:02}{place:04}");
            (slot, model.module(serial))
        };
        Self {
            number,
            model,
            product: model.product(),
            modules: model.planned().into_iter().enumerate().map(module).collect(),
            absent_sockets: Vec::new(),
            correction: "Multi-bit ECC",
            speaks_of_speed: true,
            speaks_of_serials: true,
            idle: None,
        }
    }

    pub fn name(&self) -> String {
        format!("bay{:02}", self.number)
    }

    pub fn take(&mut self, slot: &str) -> Module {
        self.modules.remove(slot).unwrap()
    }

    pub fn change(&mut self, slot: &str, change: impl FnOnce(&mut Module)) {
        change(self.modules.get_mut(slot).unwrap());
    }

    pub fn listing(&self) -> String {
        let mut out =
            String::from("# dmidecode 3.3\nGetting SMBIOS data from sysfs.\nSMBIOS 2.8 present.\n\n");
        let serial = format!("WT-{:04}", self.number);
        let _ = write!(
            out,
            "Handle 0x0001, DMI type 1, 27 bytes\nSystem Information\n\tManufacturer: Wetherlam Works\n\tProduct Name: {}\n\tSerial Number: {serial}\n\n",
            self.product
        );
        for socket in 1..=self.model.sockets() {
            let status =
                if self.absent_sockets.contains(&socket) { "Unpopulated" } else { "Populated, Enabled" };
            let _ = write!(
                out,
                "Handle 0x001{socket}, DMI type 4, 42 bytes\nProcessor Information\n\tSocket Designation: s{socket}\n\tStatus: {status}\n\n"
            );
        }
        let slots = self.model.slots();
        let _ = write!(
            out,
            "Handle 0x0020, DMI type 16, 23 bytes\nPhysical Memory Array\n\tUse: System Memory\n\tError Correction Type: {}\n\tNumber Of Devices: {}\n\n",
            self.correction,
            slots.len()
        );
        for (slot, handle) in slots.iter().zip(0x30u32..) {
            let _ = write!(
                out,
                "Handle {handle:#06X}, DMI type 17, 40 bytes\nMemory Device\n\tArray Handle: 0x0020\n"
            );
            self.device(&mut out, slot);
            out.push('\n');
        }
        out.push_str("Handle 0x00FF, DMI type 127, 4 bytes\nEnd Of Table\n\n");
        out.replace("Handle 0X", "Handle 0x")
    }

    fn device(&self, out: &mut String, slot: &str) {
        let Some(module) = self.modules.get(slot) else {
            let _ = write!(
                out,
                "\tSize: No Module Installed\n\tLocator: {slot}\n\tType: Unknown\n\tPart Number: NO DIMM\n"
            );
            return;
        };
        let size = if self.idle == Some(slot) { "No Module Installed" } else { module.size };
        let runs = if self.speaks_of_speed { format!("{} MT/s", module.runs) } else { "Unknown".to_owned() };
        let serial = if self.speaks_of_serials { module.serial.as_str() } else { "Not Specified" };
        let _ = write!(
            out,
            "\tTotal Width: 72 bits\n\tData Width: 64 bits\n\tSize: {size}\n\tForm Factor: DIMM\n\tLocator: {slot}\n\tType: {}\n\tType Detail: {}\n\tSpeed: {} MT/s\n\tManufacturer: Wetherlam\n\tSerial Number: {serial}\n\tPart Number: {}\n\tRank: {}\n\tConfigured Memory Speed: {runs}\n",
            module.generation, module.detail, module.rated, module.part, module.ranks
        );
    }
}
