//! The words that name rows: class, insulation, winding, item, purpose.

use serde::{Deserialize, Serialize};

macro_rules! words {
    ($($(#[$doc:meta])* $name:ident { $($(#[$word_doc:meta])* $word:ident = $text:literal,)* })*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name {
            $($(#[$word_doc])* #[serde(rename = $text)] $word,)*
        }

        impl $name {
            /// Every word of this kind, in order.
            pub const ALL: &'static [Self] = &[$(Self::$word,)*];

            /// The word as it stands in job files and tables.
            #[must_use]
            pub const fn key(self) -> &'static str {
                match self { $(Self::$word => $text,)* }
            }
        }
    )*};
}

words! {
    /// Main insulation of a cable.
    Insulation {
        /// Cross-linked polyethylene.
        Xlpe = "xlpe",
        /// Tree-retardant cross-linked polyethylene.
        TrXlpe = "tr-xlpe",
        /// Polyethylene.
        Pe = "pe",
        /// Ethylene-propylene rubber.
        Epr = "epr",
        /// Paper, lead covered, mass impregnated.
        Pilc = "pilc",
        /// Paper, oil filled.
        OilFilled = "oil-filled",
    }
    /// Outer jacket of a cable.
    Jacket {
        /// Metallic.
        Metallic = "metallic",
        /// Not metallic.
        Nonmetallic = "nonmetallic",
    }
    /// Which column of a cable table a cable falls into.
    CableDuty {
        /// Newly installed, never energised.
        New = "new",
        /// Extruded, in its first years of service.
        FirstYears = "first-years",
        /// In service.
        InService = "in-service",
    }
    /// Kind of winding.
    Winding {
        /// Form-wound alternating-current stator.
        FormWound = "form-wound",
        /// Random-wound alternating-current stator.
        RandomWound = "random-wound",
        /// Field winding.
        Field = "field",
        /// Direct-current armature.
        DcArmature = "dc-armature",
    }
    /// State of a winding.
    WindingState {
        /// New, in the factory.
        New = "new",
        /// Installed, not yet in service.
        Installed = "installed",
        /// Overhauled: cleaned and dried.
        Overhauled = "overhauled",
        /// In service.
        InService = "in-service",
    }
    /// Thermal class of a winding's insulation.
    ThermalClass {
        /// 105 °C.
        A = "A",
        /// 120 °C.
        E = "E",
        /// 130 °C.
        B = "B",
        /// 155 °C.
        F = "F",
        /// 180 °C.
        H = "H",
    }
    /// Electrical protective equipment.
    ProtectiveItem {
        /// Rubber insulating glove.
        Glove = "glove",
        /// Rubber insulating sleeve.
        Sleeve = "sleeve",
        /// Rubber insulating blanket.
        Blanket = "blanket",
        /// Rubber insulating matting.
        Matting = "matting",
        /// Rubber insulating line hose.
        LineHose = "line-hose",
        /// Rubber insulating cover.
        Cover = "cover",
        /// Live-line tool.
        LiveLineTool = "live-line-tool",
    }
    /// Class of protective equipment.
    ProtectiveClass {
        /// Class 00.
        Class00 = "00",
        /// Class 0.
        Class0 = "0",
        /// Class 1.
        Class1 = "1",
        /// Class 2.
        Class2 = "2",
        /// Class 3.
        Class3 = "3",
        /// Class 4.
        Class4 = "4",
    }
    /// How switchgear is built.
    SwitchgearKind {
        /// Metal-clad.
        MetalClad = "metal-clad",
        /// Station-type cubicle.
        StationCubicle = "station-cubicle",
        /// Metal-enclosed interrupter.
        MetalEnclosedInterrupter = "metal-enclosed-interrupter",
        /// Low-voltage power circuit breaker switchgear.
        LowVoltage = "low-voltage",
    }
    /// Why an object is tested.
    Purpose {
        /// Before it is taken over.
        Acceptance = "acceptance",
        /// In the course of its life.
        Maintenance = "maintenance",
        /// To show that it withstands.
        Proof = "proof",
        /// To learn its state.
        Diagnostic = "diagnostic",
    }
}

impl Insulation {
    /// Whether the insulation is extruded (otherwise it is laminated).
    #[must_use]
    pub const fn is_extruded(self) -> bool {
        matches!(self, Self::Xlpe | Self::TrXlpe | Self::Pe | Self::Epr)
    }
}
